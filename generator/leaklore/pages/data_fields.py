"""What each key of the data files means; the page *Data* prints it, the CSV takes its columns from it."""

from __future__ import annotations

from leaklore.language import later

CASE_FIELDS = list(
    later(
        {
            "id": "case number",
            "title": "what happened, in one line",
            "reported": "day of the complaint, YYYY-MM-DD",
            "closed": "day on which the job was closed",
            "branch": "branch",
            "crew": "crew that did the job",
            "system": "number in the register",
            "setting": "kind of place",
            "kind": "kind of equipment",
            "family": "maker-free model family",
            "refrigerant": "R number",
            "charge_kg": "full charge",
            "installed": "as in the register",
            "age_years": "age of the system at the report",
            "symptoms": "symptoms seen (CSV: joined by spaces)",
            "not_seen": "looked for and absent",
            "conditions": "conditions of the place",
            "ambient_k": "air temperature at the search",
            "lost_kg": "charge lost",
            "lost_over_s": "time in which it was lost",
            "lost_share": "charge lost as a share of the full charge",
            "leak_rate_g_per_year": "charge lost over its time",
            "mode": "failure mode of the main cause",
            "component": "component that leaked",
            "proof": "suspected, section, point or held",
            "contributing": "contributing factors",
            "counted": "true where statistics count it: pinpointed or held, and not withdrawn",
            "minutes_to_find": "minutes of the search until the cause was pinpointed",
            "search_minutes": "minutes of the whole search",
            "search_cost": "working time at the company's rate, gas and hire; a test that ran overnight counts with its setting up",
            "action": "repair",
            "repair_cost": "parts and labour",
            "fix_held": "true, false, or null where nobody looked again",
            "withdrawn": "true where the record was withdrawn",
            "url": "address of the page, relative to the site",
        }
    ).items()
)
PIECE_FIELDS = list(
    later(
        {
            "cases": "in cases.json: how many there are",
            "pieces": "in cases.json: cases of each piece; the piece KW-2024-1 is data/cases/KW-2024-1.json, and KW-2024-417 is in "
            "KW-2024-2, since 417 / 200 is 2 and a rest",
            "numbers": "in cases.json: how many numbers in a row share a piece, 200",
            "keys, rows": "in a piece, under cases: the keys once, as below, then a row of values for each case",
            "search": "only in the pieces: rows of technique, places, minutes, result",
            "readings": "only in the pieces: rows of place, instrument, value as written, background",
            "also_found": "only in the pieces: rows of mode, component, proof",
            "follow_up": "only in the pieces: rows of day, result",
        }
    ).items()
)
MODE_FIELDS = list(
    later(
        {
            "mode": "key of the failure mode",
            "name": "its name",
            "cases": "cases with it as main cause, not withdrawn",
            "counted": "those that statistics count",
            "by_proof": "cases by proof level",
            "n_lost": "counted cases that tell the charge lost",
            "median_lost_kg": "median of the charge lost",
            "median_lost_low_kg, median_lost_high_kg": "95 % interval of that median; null below 6 cases",
            "q1_lost_kg, q3_lost_kg": "quartiles of the charge lost",
            "median_lost_share": "median share of the full charge",
            "median_lost_share_low, median_lost_share_high": "95 % interval of that median",
            "median_leak_rate_g_per_year": "median leak rate",
            "median_leak_rate_low_g_per_year, median_leak_rate_high_g_per_year": "95 % interval of that median",
            "median_minutes_to_find": "median minutes to find",
            "median_minutes_to_find_low, median_minutes_to_find_high": "95 % interval of that median",
            "median_repair_cost": "median cost of parts and labour",
            "median_repair_cost_low, median_repair_cost_high": "95 % interval of that median",
            "held, looked_at_again": "fixes that held, of those looked at again",
            "held_share_low, held_share_high": "Wilson 95 % interval of that share",
            "median_age_years": "median age of the system",
            "median_age_low_years, median_age_high_years": "95 % interval of that median",
            "median_annual_share": "median share of the full charge lost in a year",
            "median_annual_share_low, median_annual_share_high": "95 % interval of that median",
            "median_co2e_t": "median warming by the charge lost, t CO2e by IPCC AR4",
            "median_co2e_low_t, median_co2e_high_t": "95 % interval of that median",
            "total_co2e_t": "sum over the counted cases",
            "finding": "false where fewer than 5 cases are counted",
            "case_ids": "the counted cases",
        }
    ).items()
)
GROUP_FIELDS = list(
    later(
        {
            "technique, component, refrigerant, setting, branch, symptom": "lists of figures, as for modes but without case_ids",
            "key": "which component, refrigerant and so on",
        }
    ).items()
)
TECHNIQUE_FIELDS = list(
    later(
        {
            "technique": "key of the technique",
            "name": "its name",
            "used": "search steps with it, over all cases not withdrawn",
            "covered": "steps in counted cases that covered the proven leak and were found or missed",
            "found, missed": "of those: told of the leak, or clean",
            "leads, pinpointed": "of the found: a lead only; the spot or its confirmation",
            "false_alarms": "steps that indicated what was no leak",
            "yield, yield_low, yield_high": "found / (found + missed) with its Wilson 95 % interval",
            "median_minutes, median_minutes_low, median_minutes_high": "median minutes of a step, its interval",
            "finding": "false where fewer than 5 steps covered a proven leak",
            "found_case_ids, missed_case_ids, false_alarm_case_ids": "the cases behind the figures",
        }
    ).items()
)
VERSUS_FIELDS = list(
    later(
        {
            "first, second": "two techniques used on the same proven leak",
            "both, only_first, only_second, neither": "leaks found by both, by one of them, by none",
            "p": "exact two-sided McNemar p over the leaks that only one of them found",
            "finding": "false where fewer than 5 leaks were searched with both",
        }
    ).items()
)
AVOIDED_FIELDS = list(
    later(
        {
            "case_ids": "counted cases in which a section isolation was not needed",
            "median_cost, median_cost_low, median_cost_high": "of the company's own isolations, with its interval",
            "saved": "cases times the median cost",
            "because_of": "cases by the technique that made it unnecessary",
        }
    ).items()
)
SYSTEM_FIELDS = list(
    later(
        {
            "system": "number in the register",
            "name": "what it is called on site",
            "site, site_name": "key and name of the site",
            "branch, setting, batch": "of the site",
            "crew": "crew that put it in",
            "kind, family, refrigerant": "as in the register",
            "charge_kg": "full charge",
            "installed, removed": "as in the register",
            "line_set_route": "where the tubes run",
            "line_set_length_m, line_set_liquid, line_set_suction": "length one way and tube sizes",
            "circuit_guess_m3": "volume guessed from charge and line set, good to a factor of two",
            "case_ids": "its cases, oldest first, withdrawn ones too",
        }
    ).items()
)
TRADE_FIELDS = list(
    later(
        {
            "constants": "by part of the program, SI",
            "refrigerants": "composition, molar mass kg/mol, GWP, limits in air mol/mol, marks that say how well each is read",
            "tables": "series for saturation, vapour and nitrogen as leaklore.trade.tables reads them, each with its error",
            "tubes": "outside diameter and wall in m, with source",
            "techniques": "smallest leak of each technique, with source",
            "practice": "limits of vacuum and air in use, with source",
            "rules": "rules on leak rates and leak checks, with day, paragraph and mark",
        }
    ).items()
)
PATTERN_FIELDS = list(
    later(
        {
            "since, until": "time under watch",
            "systems, system_years, leaks": "registered systems, their time under watch, proven leaks on them",
            "left_out": "case numbers by the reason why they are in no rate",
            "groups_looked_at, looks": "groups tested, and groups times failure modes",
            "groups_too_small": "groups that were not tested",
            "signals": "groups that leak more than all other systems; those that leak more than their like first",
            "by, group, mode": "way of sorting, group, failure mode or all",
            "cases, system_years, expected": "leaks, time under watch, leaks at the rate of the rest",
            "ratio, low, high": "times the rate of the rest, 95 % exact; null where the rest has no leak",
            "q_value": "share of false alarms among all signals at least as striking",
            "drawn_in": "ratio to all systems, small groups drawn towards 1",
            "like_by, like_ratio, like_low, like_high": "the ratio among systems of the same kind or kind of place; null where most of its leaks are on kinds of its own",
            "age_ratio, age_low, age_high": "the same, each band of age compared with itself; null where the ratio before may be chance",
            "own": "more than its like beyond chance? A crew: also than its like of the same age",
            "within": "number of the signal that rests on much the same leaks",
            "ids": "the cases",
        }
    ).items()
)
SURVIVAL_FIELDS = list(
    later(
        {
            "least_at_risk": "systems that a curve needs at every age",
            "modes": "each failure mode, and all",
            "systems, leaks": "systems under watch, first leaks of this kind",
            "from_age, to_age": "years; where enough systems are under watch",
            "points": "age in years, share without a leak since from_age, 95 % band",
            "at_risk": "systems under watch at round ages",
            "median": "age by which half have leaked, with its interval",
            "weibull": "shape and scale in years, with intervals, and what the shape says",
            "settings": "first leaks by kind of place, against what all together would give",
        }
    ).items()
)
COST_FIELDS = list(
    later(
        {
            "currency": "of all money",
            "modes": "cases, kg, t CO2e, hours, money and callbacks of each failure mode, and how many cases tell them",
            "years": "the same of all cases, proven or not, by the year of their report; whole: was all of it under watch; the money by search, repair and refrigerant",
            "first_diagnoses": "what wrong first diagnoses cost",
            "did_not_hold": "what repairs that came back cost",
            "techniques": "minutes and money of each technique, by what they were good for",
        }
    ).items()
)
BENCH_FIELDS = list(
    later(
        {
            "us_first": "are US units shown first?",
            "dimensions": "by kind of quantity: units of a field (SI = value times factor + offset), steps of an answer",
        }
    ).items()
)

WHAT = later(
    {
        "data/cases.json": "which pieces of cases there are",
        "data/cases/": "every case with its search and readings, in pieces by branch, year and number",
        "data/records/": "every record as it was written (YAML), in the same pieces",
        "data/cases.csv": "every case, one line each",
        "data/failure-modes.json": "figures of each failure mode",
        "data/techniques.json": "yield of each technique, technique against technique, isolations avoided",
        "data/groups.json": "figures by technique, symptom, component, refrigerant, kind of place and branch",
        "data/systems.json": "the register with the cases of each system",
        "data/trade.json": "what the work bench computes with: properties, tubes, limits, rules",
        "data/bench.json": "units and formats of the work bench",
        "data/patterns.json": "groups of installs that leak more than the rest",
        "data/survival.json": "age at leak",
        "data/costs.json": "what leaks, wrong first diagnoses and techniques cost",
        "data/patterns/patterns.xlsx": "all tables of the section Patterns as one workbook",
        "data/patterns/columns.csv": "every column of these tables: what it is and how it is written in its CSV",
        "data/explore.json": "the leaks that the explorer filters",
        "data/learn/evidence.json": "company and the topic of each item, for progress and trainers",
        "data/learn/lists.json": "reading lists with their items, minutes and addresses",
        "data/record.json": "what the form for a new case asks and checks with: words, units, limits",
        "feed.xml": "Atom feed of the newest cases",
        "data/schema/common.schema.json": "JSON Schema of what the others share",
        "data/schema/company.schema.json": "JSON Schema of the company's settings",
        "data/schema/case.schema.json": "JSON Schema of a case record",
        "data/schema/system.schema.json": "JSON Schema of the register",
        "data/schema/actions.schema.json": "JSON Schema of the changes that the company made",
        "data/schema/reading.schema.json": "JSON Schema of a reading list",
        "data/schema/guide.schema.json": "JSON Schema of a guide entry",
    }
)
