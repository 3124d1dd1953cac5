"""What is understood of a text: exact findings, places in the text, words left over, and what every name must give."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from analysis.builders import CASES
from leaklore.analysis.evidence import Check
from leaklore.records.check import check
from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import vocabulary_of
from leaklore.records.model import YEAR
from leaklore.search.amounts import amounts
from leaklore.search.lexicon import Lexicon, phrases
from leaklore.search.make import make
from leaklore.search.understand import LONGEST, Understood, evidence, understand
from leaklore.trade.units import DAY

TODAY = dt.date(2026, 11, 26)
GROUPS = {
    "outdoor-flare|indoor-flare": "FLARES",
    "outdoor-coil|indoor-coil|case-coil|cold-room-coil": "COILS",
    "indoor-coil|case-coil|cold-room-coil": "EVAPORATORS",
    "ductless-split|ducted-split|packaged-rooftop|heat-pump": "HEAT-PUMPS",
}
SAID: list[tuple[str, list[str], str]] = [
    # whole questions
    (
        "410 hissing by the wall green copper lost 3 lb since spring",
        [
            "refrigerant R-410A [410]",
            "symptom hissing [hissing by the wall]",
            "place wall-chase [hissing by the wall]",
            "symptom green-deposit [green copper]",
            "lost 1.361 [3 lb]",
            "over 0.739 [since spring]",
        ],
        "",
    ),
    (
        "oil at flare minisplit",
        ["symptom oil-film [oil at flare]", "place FLARES [oil at flare]", "kind ductless-split [minisplit]"],
        "",
    ),
    (
        "keeps loosing charge no bubbles",
        ["symptom repeat-top-up [keeps loosing charge]", "clean bubble-test [bubbles]"],
        "",
    ),
    (
        "R-1234ze(E) chiller, 12 kg lost in 2 years",
        [
            "refrigerant R-1234ze(E) [R-1234ze(E)]",
            "kind chiller [chiller]",
            "lost 12.000 [12 kg]",
            "over 2.000 [2 years]",
        ],
        "",
    ),
    # names of refrigerants in every spelling, a temperature being none
    (
        "R410A  Low   ON  charge!!",
        ["refrigerant R-410A [R410A]", "symptom short-of-charge [Low   ON  charge]"],
        "",
    ),
    ("r 404a short of gas", ["refrigerant R-404A [r 404a]", "symptom short-of-charge [short of gas]"], ""),
    ("407c leaking, -5 C suction", ["refrigerant R-407C [407c]", "place suction-line [suction]"], ""),
    ("superheat 12 °F", [], "superheat"),
    ("R-410A then R-32", ["refrigerant R-32 [R-32]"], ""),
    # a heat pump may be one of several kinds, unless another word says which
    ("heat pump short of gas", ["kind HEAT-PUMPS [heat pump]", "symptom short-of-charge [short of gas]"], ""),
    ("rooftop heat pump, hissing", ["kind packaged-rooftop [rooftop]", "symptom hissing [hissing]"], ""),
    ("heat pump on the rooftop", ["kind packaged-rooftop [rooftop]"], ""),
    ("heat pump, I mean the chiller", ["kind chiller [chiller]"], "mean"),
    ("geothermal heat pump", ["kind heat-pump [geothermal heat pump]"], ""),
    # under the floor, and on the roof above the shop
    (
        "buried line set, the ammonia smell",
        ["place buried-line [buried line set]", "refrigerant R-717 [ammonia]", "symptom smell [smell]"],
        "",
    ),
    # the longest phrase; fillers between its words; words drawn together
    (
        "oil film on the evaporator coil, green",
        [
            "symptom oil-film [oil film]",
            "place indoor-coil [evaporator coil]",
            "symptom green-deposit [green]",
        ],
        "",
    ),
    ("low on the gas", ["symptom short-of-charge [low on the gas]"], ""),
    ("heatpump minisplit", ["kind ductless-split [minisplit]"], ""),
    ("relief valve", ["place relief-valve [relief valve]"], ""),
    ("relief valve leaking", ["symptom vent-line-trace [relief valve leaking]"], ""),
    # typing mistakes, none of a word that prose uses or that is known
    ("corroded evapurator", ["symptom visible-corrosion [corroded]", "place EVAPORATORS [evapurator]"], ""),
    (
        "conndenser coil corosion",
        ["place outdoor-coil [conndenser coil]", "symptom visible-corrosion [corosion]"],
        "",
    ),
    ("flrae nut", ["place FLARES [flrae nut]"], ""),
    (
        "hising at the sevice valve",
        ["symptom hissing [hising]", "place outdoor-service-valve [sevice valve]"],
        "",
    ),
    ("blowin warm air", ["symptom weak-cooling [blowin warm air]"], ""),
    ("vibraton", ["symptom loose-or-shaking [vibraton]"], ""),
    # both words of a phrase, an article, a short word
    ("hising behnd teh wal", ["symptom hissing [hising]", "place wall-chase [behnd teh wal]"], ""),
    ("oli at th filtr drir", ["symptom oil-film [oli]", "place filter-drier [filtr drir]"], ""),
    ("split wont col", ["kind ductless-split [split]", "symptom weak-cooling [wont col]"], ""),
    # as near to a word that says nothing alone, or that says nothing at all
    ("hising behnd", ["symptom hissing [hising]"], "behnd"),
    ("custmer sez gren coper", ["symptom green-deposit [gren coper]"], "sez"),
    ("wal", [], "wal"),
    ("lwo", [], "lwo"),
    # absent, and how far that reaches
    ("no oil or hissing", ["absent oil-film [oil]", "absent hissing [hissing]"], ""),
    ("no oil, hissing", ["absent oil-film [oil]", "symptom hissing [hissing]"], ""),
    (
        "no oil nor hissing nor bubbles",
        ["absent oil-film [oil]", "absent hissing [hissing]", "clean bubble-test [bubbles]"],
        "",
    ),
    (
        "no oil, hissing or frost",
        ["absent oil-film [oil]", "absent hissing [hissing]", "absent frost-on-line [frost]"],
        "",
    ),
    (
        "no oil, icing, hissing or frost, smell",
        [
            "absent oil-film [oil]",
            "absent ice-on-coil [icing]",
            "absent hissing [hissing]",
            "absent frost-on-line [frost]",
            "symptom smell [smell]",
        ],
        "",
    ),
    (
        "oil, hissing or frost",
        ["symptom oil-film [oil]", "symptom hissing [hissing]", "symptom frost-on-line [frost]"],
        "",
    ),
    (
        "no oil. hissing or frost",
        ["absent oil-film [oil]", "symptom hissing [hissing]", "symptom frost-on-line [frost]"],
        "",
    ),
    (
        "no oil, hissing or frost by the wall",
        [
            "absent oil-film [oil]",
            "symptom hissing [hissing]",
            "symptom frost-on-line [frost]",
            "near wall-chase [wall]",
        ],
        "",
    ),
    ("no oil but hissing", ["absent oil-film [oil]", "symptom hissing [hissing]"], ""),
    ("oil but no hissing", ["symptom oil-film [oil]", "absent hissing [hissing]"], ""),
    ("not seeing any oil", ["absent oil-film [oil]"], ""),
    (
        "no visible oil anywhere near hissing",
        ["absent oil-film [oil]", "symptom hissing [hissing]"],
        "anywhere",
    ),
    ("isn’t icing", ["absent ice-on-coil [icing]"], ""),
    (
        "never hissing since service",
        ["absent hissing [hissing]", "symptom loss-after-work [since service]"],
        "",
    ),
    ("without oil at the flare", ["absent oil-film [oil at the flare]"], ""),
    ("no oil at the flare or the coil", ["absent oil-film at COILS [oil at the flare or the coil]"], ""),
    ("oil, no oil, oil", ["symptom oil-film [oil]"], ""),
    ("no oil, oil, no oil", ["absent oil-film [oil]"], ""),
    (
        "no oil 3 years hissing",
        ["absent oil-film [oil]", "over 3.000 [3 years]", "symptom hissing [hissing]"],
        "",
    ),
    (
        "no oil every summer hissing",
        [
            "absent oil-film [oil]",
            "symptom loss-in-season [every summer]",
            "over 1.000 [every summer]",
            "symptom hissing [hissing]",
        ],
        "",
    ),
    ("oil nothing", ["absent oil-film [oil]"], ""),
    ("not cooling", ["symptom weak-cooling [not cooling]"], ""),
    # places: where it leaks, where it only shows, where it does not
    ("oil at the filter drier", ["symptom oil-film [oil]", "place filter-drier [filter drier]"], ""),
    ("icing at the txv", ["symptom ice-on-coil [icing]", "near expansion-valve [txv]"], ""),
    ("oil not at the flare", ["symptom oil-film [oil]", "not-place FLARES [flare]"], ""),
    (
        "not the compressor but the filter drier",
        ["not-place compressor-body [compressor]", "place filter-drier [filter drier]"],
        "",
    ),
    # where somebody read a pressure is not where it leaks; ppm are read at the leak
    (
        "suction 60 psi head pressure is 200 psig",
        ["near suction-line [suction]", "near indoor-cabinet|compressor-gasket [head]"],
        "pressure",
    ),
    (
        "118 suction 300 head",
        ["near suction-line [suction]", "near indoor-cabinet|compressor-gasket [head]"],
        "118 300",
    ),
    ("250 psig on the high side", ["near discharge-line [high side]"], ""),
    ("head: 300", ["near indoor-cabinet|compressor-gasket [head]"], "300"),
    ("oil at head 2", ["symptom oil-film [oil]", "place indoor-cabinet|compressor-gasket [head]"], ""),
    ("unit 12 suction line", ["place suction-line [suction line]"], "12"),
    ("flare 85 ppm", ["place FLARES [flare]"], ""),
    # checks that showed nothing
    ("bubbles negative", ["clean bubble-test [bubbles]"], ""),
    ("bubbles negative at the flare", ["clean bubble-test at FLARES [bubbles negative at the flare]"], ""),
    ("visual at the coil clean", ["clean visual at COILS [visual at the coil]"], ""),
    ("soaped the flares nothing", ["clean bubble-test at FLARES [soaped the flares]"], ""),
    ("soaped the flares, nothing", ["clean bubble-test at FLARES [soaped the flares]"], ""),
    ("oil, nothing", ["symptom oil-film [oil]"], ""),
    ("dye never showed", ["clean dye [dye]"], ""),
    ("the dye never showed at the flare", ["clean dye at FLARES [dye never showed at the flare]"], ""),
    ("dye never showed, oil", ["clean dye [dye]", "symptom oil-film [oil]"], ""),
    ("ultrasonic can't hear a hiss", ["technique ultrasonic [ultrasonic]", "absent hissing [hiss]"], ""),
    (
        "sniffer found nothing at the coil",
        ["clean heated-diode-detector at COILS [sniffer found nothing at the coil]"],
        "",
    ),
    ("nothing found at the flare", ["not-place FLARES [flare]"], ""),
    # nothing found denies a check or a place, and no sign
    (
        "nothing found hissing at the wall",
        ["symptom hissing [hissing at the wall]", "place wall-chase [hissing at the wall]"],
        "",
    ),
    (
        "oil at flare nothing found at the coil",
        ["symptom oil-film [oil at flare]", "place FLARES [oil at flare]", "not-place COILS [coil]"],
        "",
    ),
    (
        "soaped flares nothing found at the coil",
        ["clean bubble-test at FLARES [soaped flares]", "not-place COILS [coil]"],
        "",
    ),
    ("losing gas cant find leak", ["symptom short-of-charge [losing gas]"], ""),
    (
        "no leak outdoors oil at flare",
        [
            "not-place outdoor-cabinet [outdoors]",
            "symptom oil-film [oil at flare]",
            "place FLARES [oil at flare]",
        ],
        "",
    ),
    ("flares not leaking, hissing", ["not-place FLARES [flares]", "symptom hissing [hissing]"], ""),
    ("oil none found", ["absent oil-film [oil]"], ""),
    # ok and good clear a check or a place
    (
        "soaped the flare at the txv and got nothing",
        [
            "clean bubble-test at FLARES [soaped the flare]",
            "clean bubble-test at expansion-valve [soaped the flare at the txv]",
        ],
        "",
    ),
    (
        "bubbles sniffer and uv nada",
        ["clean bubble-test [bubbles]", "clean heated-diode-detector [sniffer]", "clean dye [uv]"],
        "",
    ),
    (
        "sniffer hit at the coil",
        ["technique heated-diode-detector [sniffer hit]", "place COILS [coil]"],
        "",
    ),
    ("soap clean on all flares", ["clean bubble-test at FLARES [soap clean on all flares]"], ""),
    (
        "nitrogen on all night",
        ["technique standing-pressure [nitrogen]", "symptom long-run-times [on all night]"],
        "",
    ),
    ("nitrogen all night", ["technique standing-pressure [nitrogen]"], "night"),
    ("soaped flares and nothing", ["clean bubble-test at FLARES [soaped flares]"], ""),
    ("soaped flares ok", ["clean bubble-test at FLARES [soaped flares]"], ""),
    (
        "drain is ok oil at flare",
        ["not-place drain-pan [drain]", "symptom oil-film [oil at flare]", "place FLARES [oil at flare]"],
        "",
    ),
    ("regassed ok last year", ["symptom repeat-top-up [regassed]", "over 1.000 [last year]"], ""),
    ("coil no good oil on it", ["place COILS [coil]", "symptom oil-film [oil on]"], ""),
    ("worked fine till last week", ["over 0.019 [last week]"], "worked till"),
    (
        "oil at flare, elbow fine crack",
        [
            "symptom oil-film [oil at flare]",
            "place FLARES [oil at flare]",
            "place line-joint [elbow]",
            "mode vibration-crack [fine crack]",
        ],
        "",
    ),
    # what nobody looked at is not denied, and denies nothing
    (
        "flares not checked oil at coil",
        ["place FLARES [flares]", "symptom oil-film [oil at coil]", "place COILS [oil at coil]"],
        "",
    ),
    # several places, several checks
    (
        "checked flares checked coil nothing",
        ["not-place FLARES [flares]", "not-place COILS [coil]"],
        "",
    ),
    (
        "soap and sniffer on both flares clean",
        [
            "clean bubble-test at FLARES [soap and sniffer on both flares]",
            "clean heated-diode-detector at FLARES [sniffer on both flares]",
        ],
        "",
    ),
    (
        "soaped flares and txv nothing found",
        [
            "clean bubble-test at FLARES [soaped flares]",
            "clean bubble-test at expansion-valve [soaped flares and txv]",
        ],
        "",
    ),
    (
        "sniffer tried at flare then soap clean",
        [
            "technique heated-diode-detector [sniffer]",
            "place FLARES [flare]",
            "clean bubble-test [soap]",
        ],
        "",
    ),
    (
        "sniffer beeps soap clean",
        ["technique heated-diode-detector [sniffer]", "clean bubble-test [soap]"],
        "beeps",
    ),
    (
        "oil at filter drier coil drain ok",
        [
            "symptom oil-film [oil]",
            "place filter-drier [filter drier]",
            "place COILS [coil]",
            "not-place drain-pan [drain]",
        ],
        "",
    ),
    (
        "oil at flare coil and txv ok",
        [
            "symptom oil-film [oil at flare]",
            "place FLARES [oil at flare]",
            "not-place COILS [coil]",
            "not-place expansion-valve [txv]",
        ],
        "",
    ),
    # liquid that floods back is no standing water
    ("liquid flooding back to comp", ["place compressor-body [comp]"], "liquid flooding back"),
    ("pit flooded", ["condition standing-water [pit flooded]"], ""),
    # short forms
    (
        "hi sh lo suction",
        [
            "symptom high-superheat [hi sh]",
            "symptom low-suction-pressure [lo suction]",
            "near suction-line [lo suction]",
        ],
        "",
    ),
    (
        "screw thru the pkg unit",
        ["symptom dent-or-puncture [screw thru]", "kind packaged-rooftop [pkg unit]"],
        "",
    ),
    ("lo", [], "low"),
    # pounds on a gauge
    ("suction 60 lbs", ["near suction-line [suction]"], ""),
    ("500# nitrogen no leaks", ["clean standing-pressure [nitrogen]"], ""),
    ("300 lbs of dry nitrogen dropped 10 lbs", ["technique standing-pressure [nitrogen dropped]"], "dry"),
    (
        "lost 3 lbs nitrogen test clean",
        ["lost 1.361 [3 lbs]", "clean standing-pressure [nitrogen test]"],
        "",
    ),
    (
        "low pressure lost 3 lbs in 2 summers",
        ["symptom low-suction-pressure [low pressure]", "lost 1.361 [3 lbs]", "over 2.000 [2 summers]"],
        "",
    ),
    # a test that held, and one that didn't
    ("nitro held 3 days", ["clean standing-pressure [nitro]", "over 0.008 [3 days]"], ""),
    ("500 psi nitro no drop", ["clean standing-pressure [nitro]"], ""),
    ("nitrogen didnt hold", ["technique standing-pressure [nitrogen]"], ""),
    ("vacuum not held", ["technique vacuum-hold [vacuum]"], ""),
    ("flares held together with tape", ["place FLARES [flares]"], "tape"),
    # nothing found
    ("sniffer at the coil no hits", ["clean heated-diode-detector at COILS [sniffer at the coil]"], ""),
    ("no hits with sniffer at coil", ["clean heated-diode-detector at COILS [sniffer at coil]"], ""),
    ("soap no gas detected", ["clean bubble-test [soap]"], ""),
    ("split leaking at back of the coil", ["kind ductless-split [split]", "place COILS [coil]"], "back"),
    # weather that isn't
    ("not windy, no rain or snow, hissing", ["symptom hissing [hissing]"], ""),
    (
        "nothing found with detector at the flare",
        ["clean heated-diode-detector at FLARES [detector at the flare]"],
        "",
    ),
    ("nothing found with soap at the flare", ["clean bubble-test at FLARES [soap at the flare]"], ""),
    ("found nothing with soap", ["clean bubble-test [soap]"], ""),
    ("not heard any hissing", ["absent hissing [hissing]"], ""),
    ("soaped the flares, nothing found", ["clean bubble-test at FLARES [soaped the flares]"], ""),
    ("nothing found, hissing", ["symptom hissing [hissing]"], ""),
    (
        "flare checked with soap, clean",
        ["clean bubble-test at FLARES [flare checked with soap]"],
        "",
    ),
    (
        "minisplit flare and txv soaped, clean",
        [
            "kind ductless-split [minisplit]",
            "clean bubble-test at FLARES [flare and txv soaped]",
            "clean bubble-test at expansion-valve [txv soaped]",
        ],
        "",
    ),
    ("flare dye never showed", ["clean dye at FLARES [flare dye]"], ""),
    (
        "oil at the filter drier, soap clean",
        ["symptom oil-film [oil]", "place filter-drier [filter drier]", "clean bubble-test [soap]"],
        "",
    ),
    (
        "oil at the filter drier soap clean",
        ["symptom oil-film [oil]", "place filter-drier [filter drier]", "clean bubble-test [soap]"],
        "",
    ),
    ("flare but soap clean", ["place FLARES [flare]", "clean bubble-test [soap]"], ""),
    # causes
    ("not a flare leak", ["not-mode flare-joint [flare leak]"], ""),
    ("rubbing ruled out", ["absent rub-mark [rubbing]"], ""),
    ("3/8 flare weeping", ["mode flare-joint [flare weeping]"], ""),
    # amounts
    ("3 lb 8oz short", ["lost 1.588 [3 lb 8oz]"], ""),
    ("added 3lb8oz last month", ["lost 1.588 [3lb8oz]", "over 0.083 [last month]"], ""),
    ("lost 1½ lb in 3 months", ["lost 0.680 [1½ lb]", "over 0.250 [3 months]"], ""),
    ("lost .5 lb", ["lost 0.227 [.5 lb]"], ""),
    (
        "half a pound every summer",
        ["lost 0.227 [half a pound]", "symptom loss-in-season [every summer]", "over 1.000 [every summer]"],
        "",
    ),
    ("2 kg/month", ["lost 2.000 [2 kg]", "over 0.083 [/month]"], ""),
    ("a few pounds a year", ["lost 1.361 [a few pounds]", "over 1.000 [a year]"], ""),
    (
        "charge 4.5 kg, 12-year-old, lost 1 kg",
        ["charge 4.500 [4.5 kg]", "age 12.000 [12-year-old]", "lost 1.000 [1 kg]"],
        "",
    ),
    ("lost about 3 lb of charge", ["lost 1.361 [3 lb]"], ""),
    ("4.5 kg of system charge", ["charge 4.500 [4.5 kg]"], ""),
    # a comma before three digits parts thousands; elsewhere it is a decimal sign
    ("chiller lost 1,200 lb", ["kind chiller [chiller]", "lost 544.311 [1,200 lb]"], ""),
    ("charge 12,500 g, lost 1,5 kg", ["charge 12.500 [12,500 g]", "lost 1.500 [1,5 kg]"], ""),
    ("lost 0,850 kg", ["lost 0.850 [0,850 kg]"], ""),
    ("charge 1234,567 kg", ["charge 1234.567 [1234,567 kg]"], ""),
    ("lost 4 of 12 kg", ["lost 4.000 [4]", "charge 12.000 [12 kg]"], ""),
    ("lost 3 lb of its 8 lb charge", ["lost 1.361 [3 lb]", "charge 3.629 [8 lb]"], ""),
    (
        "1.5 of the 4 lb in 3 mnths",
        ["lost 0.680 [1.5]", "charge 1.814 [4 lb]", "over 0.250 [3 mnths]"],
        "",
    ),
    ("2 of 3 compressors, 4 kg", ["place compressor-body [compressors]", "lost 4.000 [4 kg]"], ""),
    ("installed 2015", ["age 11.406 [installed 2015]"], ""),
    # many years are an age where no loss stands beside them
    ("rooftop 20 yrs", ["kind packaged-rooftop [rooftop]", "age 20.000 [20 yrs]"], ""),
    ("lost 2 kg in 6 years", ["lost 2.000 [2 kg]", "over 6.000 [6 years]"], ""),
    ("brand new", ["age 0.200 [brand new]"], ""),
    ("100 grams weekly, 2 ounces daily", ["lost 0.057 [2 ounces]", "over 0.003 [daily]"], ""),
    ("gas every summer", ["symptom repeat-top-up [gas every summer]", "over 1.000 [every summer]"], ""),
    ("since last visit", ["symptom loss-after-work [since last visit]"], ""),
    ("hissing since last week", ["symptom hissing [hissing]", "over 0.019 [last week]"], ""),
    (
        "weak cooling since last month",
        ["symptom weak-cooling [weak cooling]", "over 0.083 [last month]"],
        "",
    ),
    ("since last service", ["symptom loss-after-work [since last service]"], ""),
    ("suction 60 psi, 20% low", ["near suction-line [suction]"], ""),
    # offsets in what was typed
    ("🧊🧊 ice on coil", ["symptom ice-on-coil [ice on coil]"], ""),
    (
        "oil 🔥 at the flare hissing",
        [
            "symptom oil-film [oil 🔥 at the flare]",
            "place FLARES [oil 🔥 at the flare]",
            "symptom hissing [hissing]",
        ],
        "",
    ),
    ("ö́il at the flàre", ["symptom oil-film [ö́il at the flàre]", "place FLARES [ö́il at the flàre]"], ""),
    ("ﬂare oﬀ", ["place FLARES [ﬂare]"], "off"),
    ("no\xa0oil at\u3000the flare", ["absent oil-film [oil at\u3000the flare]"], ""),
    # nothing in it
    ("", [], ""),
    (" ,;. ", [], ""),
    ("please help there is a leak", [], ""),
    ("constructor __proto__ whatsit", ["condition recent-building-work [constructor]"], "proto whatsit"),
]
"""(text, findings, words left over); a finding is kind, keys or amount, places of a clean check, [text as typed]."""
SAID_IN_SPANISH: list[tuple[str, list[str], str]] = [
    (
        "minisplit no enfría aceite en la tuerca",
        [
            "kind ductless-split [minisplit]",
            "symptom weak-cooling [no enfría]",
            "symptom oil-film [aceite en la tuerca]",
            "place FLARES [aceite en la tuerca]",
        ],
        "",
    ),
    (
        "no enfrai minisplt acite en la turca",
        [
            "symptom weak-cooling [no enfrai]",
            "kind ductless-split [minisplt]",
            "symptom oil-film [acite en la turca]",
            "place FLARES [acite en la turca]",
        ],
        "",
    ),
    (
        "no encontré fuga silbido detrás de la pared",
        ["symptom hissing [silbido]", "place wall-chase [detrás de la pared]"],
        "",
    ),
    ("enjaboné las tuercas y nada", ["clean bubble-test at FLARES [enjaboné las tuercas]"], ""),
    ("no hay aceite ni escarcha", ["absent oil-film [aceite]", "absent frost-on-line [escarcha]"], ""),
    (
        "las tuercas están bien, el serpentín tiene aceite",
        ["not-place FLARES [tuercas]", "place COILS [serpentín]", "symptom oil-film [aceite]"],
        "",
    ),
    (
        "rack r404a pierde 15 kg al mes",
        [
            "kind compressor-rack [rack]",
            "refrigerant R-404A [r404a]",
            "lost 15.000 [15 kg]",
            "over 0.083 [al mes]",
        ],
        "",
    ),
    (
        "perdió medio kilo desde marzo, instalado en 2015",
        ["lost 0.500 [medio kilo]", "over 0.739 [desde marzo]", "age 11.406 [instalado en 2015]"],
        "",
    ),
    (
        "2 de 6 kg en un año, 12 años de uso",
        ["lost 2.000 [2]", "charge 6.000 [6 kg]", "over 1.000 [un año]", "age 12.000 [12 años de uso]"],
        "",
    ),
    (
        "huele a amoníaco, sello de flecha",
        ["symptom smell [huele]", "refrigerant R-717 [amoníaco]", "place shaft-seal [sello de flecha]"],
        "",
    ),
]


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    """That of the demo library."""
    return make(check(CASES, today=TODAY).library).engine.lexicon


def _told(raw: str, found: Understood) -> list[str]:
    out = []
    for f in found.findings:
        keys, at = "|".join(f.keys), "|".join(f.at)
        parts = [f.kind]
        if keys:
            parts.append(GROUPS.get(keys, keys))
        if f.value is not None:
            parts.append(f"{f.value:.3f}")
        if at:
            parts.append(f"at {GROUPS.get(at, at)}")
        out.append(" ".join([*parts, f"[{raw[f.start : f.end]}]"]))
    return out


@pytest.mark.parametrize(("said", "findings", "words"), SAID)
def test_understanding(said: str, findings: list[str], words: str, lexicon: Lexicon) -> None:
    """Kg and years to three digits."""
    found = understand(said, lexicon, TODAY)
    assert _told(said, found) == findings
    assert " ".join(found.words) == words


@pytest.fixture(scope="module")
def spanish() -> Lexicon:
    """That of a library whose pages are Spanish."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered(), "es-MX").guide
    return Lexicon(phrases(guide, vocabulary_of(guide, {}, {})))


@pytest.mark.parametrize(("said", "findings", "words"), SAID_IN_SPANISH)
def test_understanding_spanish(said: str, findings: list[str], words: str, spanish: Lexicon) -> None:
    """With the English words beside."""
    found = understand(said, spanish, TODAY)
    assert _told(said, found) == findings
    assert " ".join(found.words) == words


def _keys(raw: str, kind: str, lexicon: Lexicon) -> set[str]:
    return {key for f in understand(raw, lexicon, TODAY).findings if f.kind == kind for key in f.keys}


def test_every_name_of_a_symptom_is_that_symptom_and_denied_it_is_absent(lexicon: Lexicon) -> None:
    """Typed as it stands, in capitals, and after a `no`."""
    for key, name in lexicon.names["symptom"].items():
        for raw in (name, name.upper(), f"  {name}."):
            assert key in _keys(raw, "symptom", lexicon), raw
            assert not _keys(raw, "absent", lexicon), raw
        assert key in _keys(f"no {name}", "absent", lexicon), name
        assert key not in _keys(f"no {name}", "symptom", lexicon), name


OFTENER_EQUIPMENT = {"cold-room"}
"""Places whose name says more often what is being worked on: `cold room` is the equipment."""


def test_every_name_of_a_component_is_a_place(lexicon: Lexicon) -> None:
    """Alone, and as the place of a sign of oil."""
    for key, name in lexicon.names["place"].items():
        found = key in _keys(name, "place", lexicon)
        assert found == (key not in OFTENER_EQUIPMENT), name
        if found:
            assert key in _keys(f"weeping oil, {name}", "place", lexicon), name
            if "," not in name:
                assert key in _keys(f"not {name}", "not-place", lexicon), name


def test_every_refrigerant_is_known_by_its_key(lexicon: Lexicon) -> None:
    """With a hyphen, a space, nothing between, in small letters, in the middle of a text."""
    assert len(lexicon.names["refrigerant"]) > 15
    for key in lexicon.names["refrigerant"]:
        for raw in (
            key,
            key.lower(),
            key.replace("-", " "),
            key.replace("-", ""),
            f"low on gas {key}, hissing",
        ):
            assert _keys(raw, "refrigerant", lexicon) == {key}, raw


@pytest.mark.parametrize("kind", ["symptom", "refrigerant", "kind", "technique"])
def test_most_phrases_mean_what_they_stand_under(kind: str, lexicon: Lexicon) -> None:
    """Of those that mean nothing likelier, all but very few."""
    names = make(check(CASES, today=TODAY).library).phrases["phrases"][kind]
    wrong = [p for key, listed in names.items() for p in listed if key not in _keys(p, kind, lexicon)]
    assert len(wrong) <= 2, wrong


@pytest.mark.parametrize(
    ("today", "days"),
    [
        (dt.date(2026, 3, 15), 379),
        (dt.date(2026, 3, 16), 15),
        (dt.date(2026, 4, 1), 31),
        (dt.date(2026, 2, 28), 364),
        (dt.date(2024, 2, 29), 365),
    ],
)
def test_since_a_month_goes_back_to_the_last_one_that_is_over(today: dt.date, days: int) -> None:
    """From its middle on this year's counts, and never less than half a month."""
    (found,) = amounts("since march", today)
    assert found.value == pytest.approx(days * DAY / YEAR)


def test_evidence(lexicon: Lexicon) -> None:
    """Rate and share, absent without what was seen after all, checks of the text before those made beside it."""
    beside = Check("nitrogen-bubbles", ("line-joint",), "skip")
    raw = "5 years old 410a minisplit charge 4 kg lost 1 kg in 6 months, no hissing, oil at flare, visual clean at the coil"
    found = evidence(understand(raw, lexicon, TODAY), [beside])
    assert found.symptoms == {"oil-film"}
    assert found.absent == {"hissing"}
    assert (found.kinds, found.refrigerant, found.setting) == (("ductless-split",), "R-410A", None)
    assert (found.age, found.charge) == (pytest.approx(5), pytest.approx(4))
    assert found.rate == pytest.approx(2)
    assert found.share == pytest.approx(0.5)
    assert found.places == (("outdoor-flare", "indoor-flare"),)
    assert found.not_places == ()
    assert [(c.technique, c.result) for c in found.checks] == [
        ("visual", "clean"),
        ("nitrogen-bubbles", "skip"),
    ]
    assert evidence(understand("lost 1 kg in 0 years", lexicon, TODAY)).rate is None
    assert (
        evidence(understand("hissing at the flare, no hissing at the coil", lexicon, TODAY)).absent
        == frozenset()
    )


def test_only_the_beginning_of_a_long_text_is_read(lexicon: Lexicon) -> None:
    """Characters count, not bytes."""
    assert _keys("🔥" * (LONGEST - 4) + " oil", "symptom", lexicon) == {"oil-film"}
    assert _keys("🔥" * LONGEST + " oil", "symptom", lexicon) == set()


def test_words_of_the_prose_are_no_slips(lexicon: Lexicon) -> None:
    """What cases say otherwise is not taken for a misspelt phrase."""
    assert lexicon.plain
    assert not any(lexicon.near(word) for word in lexicon.plain)
    assert lexicon.near("evapurator") == ("evaporator",)
    assert lexicon.near("veaporator") == ("evaporator",)
    assert lexicon.near("xvaporator") == ()
