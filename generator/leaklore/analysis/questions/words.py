"""Every sentence of the questions, by template. `{slots}` are filled; the browser reads the same from its data.

`material` takes them in the language of the pages.
"""

from __future__ import annotations

from collections.abc import Mapping

from leaklore.language import later

TOPICS: Mapping[str, str] = later(
    {
        "detectors": "Detectors and techniques",
        "pressure-tests": "Pressure and vacuum tests",
        "leak-rate": "How much is lost",
        "flares": "Flares, joints and valves",
        "coils": "Coils and corrosion",
        "lines": "Lines, rubbing and damage",
        "order-of-checks": "Which check comes first",
        "rules": "What the rules ask",
    }
)
"""Topic -> title."""
MODE_TOPICS: Mapping[str, tuple[str, ...]] = {
    "flares": ("joint", "seal-and-valve"),
    "coils": ("corrosion", "defect"),
    "lines": ("fatigue-and-wear", "damage"),
}
"""Topic -> families of failure modes."""
MODES = ("fits-best", "tell-tale", "finds-mode", "misses-mode")
TEMPLATES: Mapping[str, tuple[str, ...]] = {
    "detectors": ("technique-sees", "readings-above", "fools"),
    "pressure-tests": ("warms", "what-is-left", "hold-long-enough", "vacuum-rise", "hold-case"),
    "leak-rate": ("per-year", "share-a-year", "co2e", "explains"),
    "flares": MODES,
    "coils": MODES,
    "lines": MODES,
    "order-of-checks": (
        *("least-disturbing", "before-gauges", "low-first"),
        *("empty-circuit", "second-technique"),
    ),
    "rules": ("annualized", "repair-due", "repair-by"),
}
"""Topic -> its templates where the company works in US units."""
RULES_SI = ("check-interval", "check-after-repair")
"""Templates of the topic `rules` where it works in SI units."""

WORDS: Mapping[str, Mapping[str, str]] = later(
    {
        "technique-sees": {
            "text": "A circuit with {gas} loses about {rate}. It can be put on nitrogen at {pressure} for {hold}; it holds "
            "{volume}. Mark every one that shows a leak of that size with room to spare.",
            "why": "{shown} {others}",
            "shows": "{name} shows it {times} times over",
            "needs": "{name} would need {times} times as much",
            "blind": "{name} does not respond to {gas}",
        },
        "readings-above": {
            "text": "Readings at four places, each with the background beside it. Mark every one that stands out.",
            "choice": "{place}: {value}, background {background}",
            "why": "A reading stands out from {factor} times its background on and more than {step} above it (common "
            "practice, no source). A high reading in a room full of gas says nothing about the place; a small one in "
            "clean air does.",
        },
        "fools": {
            "text": "Which of these fools this technique: {technique}?",
            "why": "The guide names it for {technique}. The others trouble other techniques: {others}",
            "of": "“{what}” goes with {name}",
        },
        "warms": {
            "text": "A tight circuit stands on nitrogen at {pressure} and {temperature}. Later all of the gas is {step} "
            "{way}. What does the gauge do?",
            "warmer": "warmer",
            "cooler": "cooler",
            "rises": "It rises by about {change}",
            "falls": "It falls by about {change}",
            "stays": "It stays where it is",
            "why": "Pressure follows temperature, both counted from absolute zero: {absolute} x ({later} + {zero}) / "
            "({temperature} + {zero}). Nitrogen moves a little more than that at high pressure. The gauge ends at about {end}.",
            "zero-us": "460",
            "zero-si": "273",
        },
        "what-is-left": {
            "text": "Nitrogen stood at {pressure} and {temperature}. Now the gas is at {later} and the gauge reads {end}. "
            "How much is missing that temperature does not explain?",
            "nothing": "Nothing: temperature explains it",
            "missing": "About {value}",
            "why-nothing": "At {later} a tight circuit shows about {expected}. The gauge reads {end}: the difference is within "
            "the {drop} that gauge and thermometer can’t tell.",
            "why-missing": "At {later} a tight circuit shows about {expected}. The gauge reads {end}, about {left} less, and "
            "what gauge and thermometer can’t tell is {drop} at most: it leaks.",
        },
        "hold-long-enough": {
            "text": "A leak of {rate} of {gas} was repaired. The circuit holds {volume} and stands on nitrogen at {pressure}. "
            "Two readings can differ by {gauge}, the temperature is known to {doubt}. Which is the shortest hold "
            "here that would have shown that leak?",
            "why": "It takes about {wait} until a leak of that size has lowered the pressure by more than the {drop} that gauge "
            "and temperature can’t tell. A shorter hold passes, whether it leaks or not.",
        },
        "vacuum-rise": {
            "text": "The pump is valved off at {start}. After 5 min the gauge shows {middle}, after 10 min {end}. What does that "
            "point to?",
            "moisture": "Moisture: the rise levels off",
            "leak": "A leak: the rise goes on",
            "quiet": "Neither: too small a rise to tell",
            "pump": "A pump that is worn out",
            "why-moisture": "The second five minutes brought {late}, the first {early}: it slows, as water does that boils off "
            "until its vapour stops it. Dry the circuit and hold again; a small leak can hide behind moisture.",
            "why-leak": "The second five minutes brought {late}, the first {early}: it does not slow. Test with nitrogen, since a "
            "vacuum pulls with one atmosphere at most, and inward.",
            "why-quiet": "It rose by {rise} in all. That says dry, and no coarse leak; a small leak it can’t show, so a vacuum is never "
            "the only test. With the pump valved off, the pump has no part in it.",
        },
        "hold-case": {
            "text": "After a repair at a system with {gas} that holds about {volume} and had lost {rate}: {medium} from {start} to "
            "{end} in {over}{temps}. What does that test prove?",
            "temps": ", at {first} and {last}",
            "nitrogen": "nitrogen",
            "nitrogen-hydrogen": "nitrogen with hydrogen",
            "vacuum": "a vacuum",
            "refrigerant": "the refrigerant’s own pressure",
            "proves": "That leak is gone: it would have shown",
            "too-coarse": "Too short or too coarse for a leak of that size",
            "says-nothing": "Nothing, however long it stands",
            "fell": "It still leaks: more is missing than temperature explains",
            "why-proves": "A leak as large as before would have shown after about {wait} in a circuit of that size.",
            "why-too-coarse": "A leak as large as before would have shown only after about {wait} in a circuit of that size. Hold longer, at a "
            "higher pressure within the nameplate, or in smaller sections.",
            "why-says-nothing": "While liquid is inside, the pressure follows the temperature and not the amount: it stands still until "
            "the last liquid is gone.",
            "why-fell": "Even with the temperature taken out the pressure moved by more than gauge and temperature can explain.",
        },
        "per-year": {
            "text": "{lost} went missing in {over}. How much is that a year?",
            "why": "{lost} in {over} makes {right} a year at the same pace: over the months, times twelve.",
        },
        "share-a-year": {
            "text": "A system with a full charge of {charge} lost {lost} in {over}. Which share of the charge is that a year?",
            "why": "{lost} of {charge} is {plain} in {over}; a year at the same pace makes {right}.",
        },
        "co2e": {
            "text": "{mass} of {gas} escaped. Its GWP is {gwp} (IPCC AR4). How much is that in t CO₂e?",
            "why": "{kg} times {gwp}, over 1000, is {right}. The mass goes in as kilograms.",
        },
        "explains": {
            "text": "A system loses {loss}. You found a leak, and by its bubbles it passes about {found}. What now?",
            "all": "It explains the loss: repair it and prove it",
            "part": "It is about {share} of the loss: repair it and keep searching",
            "none": "It is too small to matter: look elsewhere and leave it",
            "why-all": "{found} against {loss} is about {share}: as much as the loss, within what bubbles and scales can tell.",
            "why-part": "{found} against {loss} is about {share}. The rest leaves somewhere else, and the charge will be short again.",
        },
        "fits-best": {
            "text": "{unit}. Seen: {seen}.{absent} Which failure mode fits best by our cases?",
            "absent": " Looked for and not there: {absent}.",
            "unit": "{kind}, {age} old",
            "unit-no-age": "{kind}",
            "why": "By {cases} of our proven cases and the guide’s judgement: {right} {p}, then {second} {q}. {n} of these cases were "
            "{right}, and so was the one that this is taken from.{tells} {right}: {what}",
            "tells": " What tells it best from the other three: {signs}.",
            "no": "no {name}",
            "kind": "the kind of equipment",
            "age": "the age of the unit",
        },
        "tell-tale": {
            "text": "It could be “{mode}” or, what it is mistaken for, “{other}”. Which finding speaks for the first?",
            "why": "{sign}: seen in {a} of {n} of our proven cases of {mode} ({interval}), and in {b} of {m} of {other} ({other-interval}).",
            "interval": "95 % interval {low} to {high}",
        },
        "finds-mode": {
            "text": "You suspect: {mode}. Which of these is likeliest to find it?",
            "why": "The guide holds {right} good for it, and the other three poor: {others}.{ours} {mode}: {what} {right}: {how}",
            "ours": " In our own cases {list}.",
            "one": "{name} found {a} of {n}",
        },
        "misses-mode": {
            "text": "You suspect: {mode}. Which of these is likeliest to miss it?",
            "why": "The guide holds {right} poor for it, and the other three good: {others}.{ours} {mode}: {what} {right}: {how}",
            "ours": " In our own cases {list}.",
            "one": "{name} found {a} of {n}",
        },
        "least-disturbing": {
            "text": "A circuit with {gas} has lost some of its charge, about {rate}. Nothing has been done yet. Which of these comes first?",
            "why": "What disturbs little comes first, as long as it can show a leak of that size (common practice, no source). On the "
            "guide’s scale from 1 to 5: {right} {d}; {others}.",
            "one": "{name} {d}",
        },
        "before-gauges": {
            "text": "A system with {gas} is short of charge. You stand at: {place}.{state} Which of these comes before all the others?",
            "read": " The air has been read, low places first, and stands nowhere above the background.",
            "why-read": "The air has said what it can: no gas gathers here. That tells nothing about the place, and read once more it says the same. "
            "{right} touches nothing and comes next; the others open the circuit, shut parts of it or put something into it "
            "(common practice, no source).",
            "why": "The air is read first, from outside where the place is low or closed: it tells whether one may go in. Each hose that goes on "
            "later lets some gas go, and then a reading tells nothing about the leak; and what a probe shows at a joint is judged against the "
            "air around it (common practice, no source).",
        },
        "low-first": {
            "text": "You search: {area}, {gas}. The fan has been off for a quarter of an hour. Where does the probe go first?",
            "why": "Vapour of {gas} weighs {times} times as much as air. In still air it sinks and gathers low, so the low place is read first "
            "(common practice, no source).",
        },
        "empty-circuit": {
            "text": "A circuit with {gas} lost its whole charge weeks ago, and the gauge read zero. {state} Which of these is likeliest to "
            "show the leak now?",
            "stands": "Nothing has been put in since.",
            "nitrogen": "It was evacuated and stands on dry nitrogen at {pressure}.",
            "why-stands": "{right} needs no pressure: oil, a rub mark or a crack stays. At zero nothing blows out, and that is what the others live "
            "on: {others}. After the look comes dry nitrogen.",
            "why-nitrogen": "Nothing but nitrogen comes out. {others}: these answer to refrigerant and stay silent, however large the hole. "
            "Fluid swells with any gas.",
        },
        "second-technique": {
            "text": "{first} has pinpointed a leak at one place: {place}. What comes next?",
            "right": "{second} at the same spot",
            "again": "{first} at the same spot once more",
            "turn": "Tighten or change the part and see whether the charge stays",
            "vacuum": "Pull a vacuum and watch whether it holds",
            "why": "A place is proven when two different techniques agree there, before anything is turned. What fooled one can fool it again; "
            "a part that was turned can’t be tested as it was; a vacuum tells no place (common practice, no source).",
        },
        "annualized": {
            "text": "Full charge {charge}. {added} were added, {days} after the last addition. What is the leak rate by the annualizing "
            "method of 40 CFR 82.152?",
            "why": "{added} of {charge} is {plain}; over {days} (365 at most) and times 365 it is {right}. ({source})",
        },
        "repair-due": {
            "text": "{appliance}, {gas}, full charge {charge}. On {on} {added} were added, {days} after the last addition. Is a repair due by "
            "the leak-rate rule?",
            "over": "Yes: {rate} a year is over {limit}",
            "under": "No: {rate} a year is not over {limit}",
            "always": "Yes: every addition asks for a repair within 30 days",
            "none": "No: neither part 82 nor part 84 asks for it here",
            "commercial-refrigeration": "Commercial refrigeration",
            "industrial-process": "Industrial process refrigeration",
            "comfort-cooling": "A comfort-cooling chiller",
            "why": "{added} of {charge} in {days} is {rate} a year by the annualizing method. {because} {advice}",
            "because-rule": "{name}: a repair is due above {limit} ({source}).",
            "because-none": "{gas} with this charge: {reasons}.",
            "reason": "{name}: {because}",
        },
        "repair-by": {
            "text": "An addition on {on} shows that the leak rate is over the limit. {process} By which day must the leak be repaired?",
            "runs": "No process has to be shut down.",
            "stops": "An industrial process has to be shut down for the repair.",
            "why": "30 days from the addition that showed it, 120 if an industrial process must be shut down: here {right}. The follow-up "
            "test is due 10 days after the first test that passed. ({source}) {advice}",
        },
        "check-interval": {
            "text": "Stationary equipment with {charge} of {gas}, not labelled as hermetically sealed{with}. How often does Regulation (EU) "
            "2024/573 ask for a leak check?",
            "with": ", with a leakage detection system",
            "without": ", without a leakage detection system",
            "every": "Every {months} months",
            "none": "Not at all",
            "why": "{because}. ({source}) {advice}",
        },
        "check-after-repair": {
            "text": "A leak of stationary equipment was repaired on {on}, and it runs again. Which of these days lies inside the time in "
            "which Regulation (EU) 2024/573 wants the repaired place checked?",
            "why": "Not before 24 hours of operation and within a month: from {first} to {last}. ({source}) {advice}",
        },
    }
)
MARKS: Mapping[str, str] = later(
    {
        "published": "{where}",
        "from-memory": "{where}; from memory, open the text before you rely on it",
        "common-practice": "{where}; common practice, no source",
        "computed": "{where}; computed",
    }
)
"""How a source is named, by how far it was read."""
