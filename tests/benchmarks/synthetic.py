"""Believable libraries of any size for measuring: real schema, real register, drawn from a seed.

    python tests/benchmarks/synthetic.py OUT --cases 10000 --seed 7

Causes are drawn by the guide's `how_common`, symptoms by its words nearly-always to rarely, equipment from systems of
the demo with changed figures. A search is played out step by step with a chance to miss. Stories are made by templates
about the facts of the case, by sentences of the demo's stories of the same cause with their numbers and names changed,
and by invented names whose number grows with the text, so that the vocabulary grows as in real text (Heaps' law).
All shares, ranges and ages here are judgement, no source, unless they are read from the guide or the demo.
Same seed and size, same guide and demo: same bytes.
"""

from __future__ import annotations

import argparse
import datetime as dt
import html
import re
from collections import defaultdict, deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from math import exp, log10
from pathlib import Path
from random import Random
from typing import Any

import yaml

HERE = Path(__file__).resolve()
GUIDE = HERE.parents[2] / "generator" / "leaklore" / "guide"
DEMO = HERE.parents[2] / "cases"
SCHEMAS = "../../../schema"

LAST_REPORT = dt.date(2026, 3, 31)
LAST_LOOK = dt.date(2026, 8, 31)
"""No date of a library lies after this one: fixed, so that the bytes don't depend on the day of the run."""

HOW_COMMON = {"very-common": 8.0, "common": 4.0, "occasional": 2.0, "rare": 1.0}
"""Relative frequency of a mode for the guide's words; the same judgement as in leaklore.analysis.causes."""
SEEN = {"nearly-always": 0.85, "often": 0.45, "sometimes": 0.15, "rarely": 0.04}
UNLISTED = 0.01
PROOF = {"held": 0.41, "point": 0.40, "suspected": 0.12, "section": 0.07}
"""Shares of the demo's 218 cases, rounded."""

# Kinds of equipment, short for the table below.
K = {
    "dl": "ductless-split", "ms": "multi-split", "dc": "ducted-split", "vr": "vrf", "rt": "packaged-rooftop",
    "hp": "heat-pump", "cu": "condensing-unit", "rk": "compressor-rack", "sc": "self-contained", "ch": "chiller",
    "cr": "computer-room-unit", "tu": "transport-unit",
}  # fmt: skip

# Which kinds have the component; used where the guide's entry has no `kinds:` (judgement).
FITS = {
    "outdoor-cabinet": "dl ms dc vr rt hp cu cr tu", "indoor-cabinet": "dl ms dc vr rt cr",
    "drain-pan": "dl ms dc vr cr", "wall-chase": "dl ms dc", "ceiling-void": "ms dc vr cu rk cr",
    "floor-duct": "dc rk cr cu", "plant-room": "rk ch", "rack-frame": "rk", "case-line-up": "rk",
    "case-well": "rk", "cold-room": "cu rk", "roof-condenser": "rk ch cr", "water-side": "ch hp",
    "outdoor-coil": "dl ms dc vr rt hp cu tu", "outdoor-coil-turn": "dl ms dc vr rt hp cu tu",
    "outdoor-flare": "dl ms vr hp cu", "outdoor-service-valve": "dl ms dc vr hp cu",
    "service-port": "dl ms dc vr rt hp cu rk ch cr tu", "compressor-body": "dc vr rt hp cu rk ch tu sc",
    "compressor-gasket": "rk ch cu", "shaft-seal": "rk ch tu",
    "discharge-line": "dl ms dc vr rt hp cu rk ch tu sc cr", "suction-line": "dl ms dc vr rt hp cu rk ch tu sc cr",
    "reversing-valve": "dl ms dc vr hp rt", "accumulator": "ms dc vr hp rt rk tu",
    "liquid-receiver": "cu rk ch tu cr", "oil-separator": "rk ch vr", "filter-drier": "dc rt cu rk ch tu sc cr",
    "sight-glass": "cu rk ch tu", "solenoid-valve": "cu rk ch cr", "isolation-valve": "vr rk ch cu",
    "relief-valve": "rk ch cu", "pressure-tube": "hp cu rk ch rt cr tu vr", "flange-joint": "ch rk",
    "threaded-fitting": "cu rk ch tu cr", "indoor-coil": "dl ms dc vr rt cr",
    "indoor-coil-turn": "dl ms dc vr rt cr", "indoor-header": "ms dc vr rt cr", "indoor-flare": "dl ms vr",
    "distributor-tube": "dc vr rt rk cu cr", "capillary-tube": "dl ms sc", "expansion-valve": "dc vr rt cu rk cr tu ch",
    "self-contained-base": "sc", "line-run": "dl ms dc vr cu rk cr", "line-joint": "ms dc vr cu rk cr",
    "branch-joint": "vr ms", "buried-line": "dc rk cr cu", "press-fitting": "cu rk ch vr dc", "case-coil": "rk sc",
    "cold-room-coil": "cu rk", "condenser-header": "dc rt hp ch rk tu", "roof-condenser-coil": "rk ch cr",
    "water-exchanger": "ch hp",
}  # fmt: skip

# Years of service at which a mode tends to show (after the guide's typical_age, in figures).
AGES: dict[str, tuple[float, float]] = {
    "braze-pinhole": (0, 3), "flare-joint": (0, 4), "factory-defect": (0, 1.6), "formicary-corrosion": (1, 5),
    "coil-turn-leak": (3, 11), "vessel-rust": (7, 18), "gasket-or-o-ring": (7, 20), "buried-line-corrosion": (2, 16),
    "galvanic-corrosion": (1, 9), "rub-through": (1, 11), "small-tube-fatigue": (1, 9), "chemical-attack": (0.5, 6),
    "valve-packing-or-cap": (4, 18), "relief-device-weep": (3, 20),
}  # fmt: skip

# Years in which plant with this refrigerant is put in (judgement).
PUT_IN = {
    "R-22": (1999, 2009), "R-404A": (2004, 2019), "R-410A": (2006, 2023), "R-134a": (2005, 2022),
    "R-407C": (2003, 2014), "R-32": (2016, 2025), "R-290": (2016, 2025), "R-600a": (2014, 2025),
    "R-448A": (2016, 2025), "R-449A": (2016, 2025), "R-454B": (2019, 2025), "R-454C": (2017, 2025),
    "R-455A": (2018, 2025), "R-744": (2013, 2025), "R-717": (1998, 2024), "R-1234ze(E)": (2015, 2025),
}  # fmt: skip

# bar; what such a circuit is tested at with nitrogen in the field (common practice, no source).
TEST_BAR = {
    "R-744": (50, 75), "R-410A": (24, 40), "R-32": (26, 40), "R-454B": (25, 38), "R-290": (12, 20), "R-600a": (6, 10),
    "R-134a": (8, 15), "R-1234ze(E)": (7, 12), "R-717": (11, 18),
}  # fmt: skip

DEAF = {  # instruments that can't see the gas
    "R-717": {"heated-diode-detector", "infrared-detector", "dye"},
    "R-744": {"heated-diode-detector", "dye"},
    "R-290": {"heated-diode-detector"},
    "R-600a": {"heated-diode-detector"},
}


# ---------------------------------------------------------------------------------------------- guide and demo


@dataclass(frozen=True)
class Trade:
    """What the generator knows: guide entries by key, kinds of each component, systems and prose of the demo."""

    modes: dict[str, dict[str, Any]]
    techniques: dict[str, dict[str, Any]]
    components: dict[str, dict[str, Any]]
    words: dict[str, dict[str, str]]
    on: dict[str, frozenset[str]]
    systems: tuple[dict[str, Any], ...]
    sentences: dict[str, tuple[str, ...]]
    lessons: dict[str, tuple[str, ...]]
    advice: dict[str, tuple[str, ...]]
    order: dict[str, float] = field(default_factory=dict)

    def parts(self, mode: str, kind: str) -> list[str]:
        """Components of the mode that this kind of equipment has."""
        return [c for c in self.modes[mode]["components"] if kind in self.on[c]]


def _front(file: Path) -> dict[str, Any]:
    return dict(yaml.load(file.read_text(encoding="utf-8").split("\n---", 1)[0], Loader=yaml.CSafeLoader))


def _load(file: Path) -> Any:
    return yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)


@cache
def trade() -> Trade:
    """Reads guide and demo once."""
    modes = {e["key"]: e for e in map(_front, sorted((GUIDE / "failure-modes").glob("*.md")))}
    techniques = {e["key"]: e for e in map(_front, sorted((GUIDE / "techniques").glob("*.md")))}
    components = {e["key"]: e for e in _load(GUIDE / "components.yaml")}
    every = frozenset(K.values())
    on = {}
    for key, entry in components.items():
        if entry.get("kinds"):
            on[key] = frozenset(entry["kinds"]) & every
        else:
            on[key] = frozenset(K[k] for k in FITS.get(key, " ".join(K)).split())
    words = {
        name: {e["key"]: e["name"] for e in group} for name, group in _load(GUIDE / "vocabulary.yaml").items()
    }
    words["symptoms"] = {e["key"]: e["name"] for e in _load(GUIDE / "symptoms.yaml")}
    words["components"] = {k: e["name"] for k, e in components.items()}
    words["modes"] = {k: e["name"] for k, e in modes.items()}
    words["techniques"] = {k: e["name"] for k, e in techniques.items()}
    words["refrigerants"] = {e["key"]: e["name"] for e in _load(GUIDE / "refrigerants.yaml")}
    register = _load(DEMO / "systems.yaml")
    settings = {s["key"]: s["setting"] for s in register["sites"]}
    systems = tuple({**s, "setting": settings[s["site"]]} for s in register["systems"])
    prose: dict[str, dict[str, list[str]]] = {k: defaultdict(list) for k in ("story", "lesson", "advice")}
    for file in sorted((DEMO / "records").glob("*/*.yaml")):
        case = _load(file)
        for key in prose:
            for sentence in _sentences(case.get(key, "")):
                made = _open_up(sentence)
                if made:
                    prose[key][case["cause"]["mode"]].append(made)
    frozen = {key: {m: tuple(prose[key][m]) for m in modes} for key in prose}
    order = {k: float(e["order"]) for k, e in techniques.items()}
    return Trade(
        modes, techniques, components, words, on, systems, frozen["story"], frozen["lesson"], frozen["advice"], order
    )  # fmt: skip


def _sentences(text: str) -> list[str]:
    return re.split(r"(?<=[.!?])\s+(?=[A-Z])", " ".join(text.split()))


MONTHS = re.findall(
    r"\w+", "January February March April May June July August September October November December"
)
DAYS = re.findall(r"\w+", "Monday Tuesday Wednesday Thursday Friday Saturday Sunday")
COUNTS = re.findall(
    r"\w+",
    "two three four five six seven eight nine ten eleven twelve fifteen twenty thirty forty fifty sixty",
)
_NUMBER = re.compile(r"(?<![\w.\[-])(\d[\d,]*(?:\.\d+)?)(?![\w-])")
_NAME = re.compile(r"(?<=[a-z,;] )([A-Z][a-z]{2,})\b")
_KEEP = {
    "Monobloc",
    "Celsius",
    "Fahrenheit",
    "Rack",
    "Plot",
    "House",
    "Flat",
    "Villa",
    "The",
    "Number",
    "Unit",
}


def _open_up(sentence: str) -> str:
    """A demo sentence as a template: numbers, names, days and refrigerants are slots; "" where it can't be used."""
    text = re.sub(r" \((?:about )?-?[\d.,/ ]+[^()]*\)", "", sentence)  # the same quantity in other units
    if re.search(r"\[\[[A-Z]|[{}<>|]|S-\d|[A-Z]{2}-\d", re.sub(r"\[\[[a-z:-]+\|", "", text)):
        return ""
    if (
        not 4 <= len(text.split()) <= 42
        or text.count('"') % 2
        or not text[0].isupper()
        or text[-1] not in ".?!"
    ):
        return ""
    text = re.sub(r"\[\[[a-z:-]+\|([^\]]+)\]\]", r"\1", text)
    text = re.sub(r"\bR-\d[\w()]*", "{refr}", text)
    text = re.sub(r"\b(" + "|".join(MONTHS) + r")\b(?! be\b)", "{month}", text)
    text = re.sub(r"\b(" + "|".join(DAYS) + r")\b", "{day}", text)
    text = re.sub(r"\b(Ketterwick|Osmere|Dunbrae)\b", "{town}", text)
    text = _NAME.sub(lambda m: m[1] if m[1] in _KEEP else "{hamlet}", text)
    text = re.sub(r"(\{hamlet\} ){2,}", "{hamlet} ", text)
    text = _NUMBER.sub(lambda m: "{n:" + m[1] + "}", text)
    if re.search(r"\{n:[^}]*\}[ ./-]\{n:", text):  # a row of numbers reads like a telephone number
        return ""
    return re.sub(r"\b(" + "|".join(COUNTS) + r")\b(?= [a-z])", lambda m: "{c:" + m[1] + "}", text)


# ---------------------------------------------------------------------------------------------- words


def _w(text: str) -> list[str]:
    return text.split()


def _l(text: str) -> list[str]:
    return [part.strip() for part in text.split("/") if part.strip()]


LISTS: dict[str, list[str]] = {
    "role": _l(
        "caretaker/owner/site manager/tenant/chef/head baker/store manager/night porter/facilities man/receptionist/"
        "landlord/cleaner/shift fitter/plant operator/warehouse lead/kitchen porter/matron/bursar/gardener/"
        "duty engineer/apprentice/electrician/plumber/roofer/scaffolder/butcher/fishmonger/dairyman/driver/"
        "fleet clerk/school secretary/verger/choirmaster/projectionist/lifeguard/barmaid/florist/pharmacist/dentist/"
        "vet/housekeeper/concierge/security guard/stock clerk/forklift driver/cellarman/brewer/cheesemaker/"
        "milliner/joiner/glazier/plasterer/painter/tiler/window cleaner/sexton/archivist/librarian/curator/"
        "harbourmaster/ferryman/chandler/boatwright/warden/night nurse/orderly/surveyor/letting agent/upholsterer/"
        "stonemason/thatcher/farrier/blacksmith/greengrocer/grocer/confectioner/pastry cook/sous-chef/waiter/"
        "croupier/bookbinder/printer/tailor/cobbler/seamstress/optician/physiotherapist/radiographer/lecturer/"
        "technician of the college/groundsman/greenkeeper/jockey/auctioneer/registrar/usher/stagehand/organist"
    ),
    "tool": _w(
        "lamp mirror rag brush ladder probe torch tin gauge hose clamp spanner cutter reamer notebook glove bucket "
        "blanket tarpaulin card film tape marker tripod scaffold cherry-picker hoist trolley stool headlamp borescope "
        "thermometer clampmeter scale cylinder regulator manifold drill screwdriver chisel crowbar file hacksaw "
        "vice flaring-block swage pump stethoscope feeler-gauge calliper rule chalk pencil raincoat umbrella dust-sheet "
        "kneepad harness lanyard walkie-talkie generator extension-lead extractor fan-heater heatgun sponge syringe "
        "straw funnel jug tray crate pallet wedge shim mallet punch scriber deburrer pipe-bender inspection-hatch "
        "earmuffs respirator thermos toolbag creeper sawhorse trestle plank rope pulley hook magnet hand-mirror"
    ),
    "stuff": _w(
        "plaster plywood chipboard tiles lagging foam mastic paint varnish carpet lino slate brick render screed gravel "
        "shingle cinder sand peat clay turf decking cladding guttering flashing felt lead zinc copper aluminium steel "
        "brass rubber felt-pads cork canvas hessian straw hay sawdust flour yeast vinegar brine salt sugar syrup milk "
        "cream butter cheese lard suet mince mackerel herring haddock crab mussels oysters seaweed kelp lettuce cabbage "
        "leeks turnips apples pears plums damsons cider beer malt hops barley oats wool linen leather tallow wax resin "
        "turpentine creosote diesel paraffin grease soot ash chalk limewash bleach chlorine disinfectant detergent soap "
        "perfume incense candlewax popcorn tobacco cardboard newsprint parcels bottles crates kegs barrels trays"
    ),
    "spot": _w(
        "attic basement cellar larder pantry scullery loft landing porch lobby corridor stairwell yard courtyard alley "
        "forecourt balcony terrace parapet mezzanine gallery vestry crypt nave stage foyer canteen kitchen laundry "
        "workshop garage stable barn byre dairy bakehouse smokehouse boathouse greenhouse conservatory summerhouse shed "
        "outhouse lean-to gatehouse lodge tower turret belfry mill granary silo kiln forge foundry quay jetty slipway "
        "wharf pier breakwater lighthouse pontoon warehouse depot loading-bay goods-lift plantroom switchroom lift-shaft "
        "riser crawlspace undercroft vault archway underpass footbridge bandstand pavilion grandstand scoreboard kiosk "
        "booth stall counter showroom stockroom sorting-room strongroom surgery ward theatre mortuary chapel classroom "
        "gymnasium changing-room sauna pool-hall boiler-house bin-store cycle-shed bus-shelter allotment orchard paddock"
    ),
    "sky": _l(
        "drizzle/sleet/a hard frost/fog off the water/thin sunshine/a dry east wind/steady rain/a heat haze/thunder in the "
        "distance/hail/a still grey morning/a sea fret/driving rain/snow on the flat roofs/a gusty westerly/low cloud/"
        "a clear cold night/dew on every panel/black ice/a muggy afternoon/warm rain/mist in the valley/a squall/"
        "blinding sun/slush in the gutters/a cloudburst/a red dawn/hoar frost/dust and pollen/a thaw/a southerly gale/"
        "air like a wet towel/leaf fall/a cold snap/the first swallows of the year/midges/a rainbow and no time for it/"
        "spindrift/a spring tide/a long drought/a falling barometer/freezing drizzle/a mackerel sky/harvest dust"
    ),
    "feel": _w(
        "cross patient doubtful helpful tired curious cheerful silent worried polite gloomy sceptical amused stubborn "
        "talkative relieved puzzled apologetic brisk weary generous suspicious grateful indignant resigned impatient "
        "attentive forgetful sleepy anxious friendly hurried embarrassed thoughtful unimpressed chatty sheepish"
    ),
    "look": _w(
        "dull bright pitted scored stained swollen cracked crusted greasy tacky dusty flaking blistered green grey brown "
        "black rusty dented bent loose damp sooty frosted polished scratched split furred chalky bruised worn pinched "
        "oily dry cold warm crooked mottled speckled streaked powdery rough smooth sticky gritty hairline ragged"
    ),
    "slow": _w(
        "slowly carefully twice patiently methodically thoroughly gingerly quietly properly again steadily unhurriedly "
        "stubbornly grudgingly closely briefly blindly doggedly neatly cautiously"
    ),
    "bit": _w(
        "grommet clip bracket saddle strap panel grille louvre gland bung spacer bush washer screw rivet hinge latch "
        "gutter drain trap cable conduit bulkhead joist rafter batten stud noggin lintel sill skirting coving architrave "
        "threshold duct damper filter belt pulley bearing blade shroud plinth mount spring foot hanger threaded-rod "
        "channel tray sleeve collar flange gasket plug socket terminal relay contactor breaker isolator thermostat sensor "
        "bulb lead nameplate label sticker seal cap core stem spindle nut union elbow tee bend reducer coupling stub"
    ),
    "why": _l(
        "the shop opened at nine/the stock could not be moved/the lift was out of order/the van was due elsewhere/"
        "the roof door had been locked/nobody could find the drawing/the last sheet said otherwise/the tide was coming in/"
        "the wedding started at two/the auditors were in the building/the key was in another town/the ward was full/"
        "the floor had just been polished/a film was showing/the kiln was being fired/the delivery blocked the yard/"
        "the scaffold came down that week/the alarm company was late/exams were on/the market was setting up"
    ),
    "day": DAYS,
    "month": MONTHS,
    "ago": _l(
        "a month before/the autumn before/two winters ago/in the spring/last summer/before the handover/a fortnight earlier/"
        "on the last visit/years ago/the week before/at the turn of the year/during the refit/before the sale/at Easter/"
        "when the floor was laid/after the flood/on the day of the fair/before our time"
    ),
    "animal": _w("gull cat dog pigeon crow jackdaw fox badger spider wasp heron mouse hedgehog bat swallow goat pony robin"),
    "time": _l(
        "before eight/at first light/after closing/at noon/just after lunch/late in the day/at midnight/by torchlight/"
        "between two deliveries/in the last hour/over the weekend/at half past five/before the school run/during service/"
        "in the quiet hour/after the matinee/before the market/ahead of the rain"
    ),
}  # fmt: skip

A_PART = _w(
    "boat rope net mill kiln grain malt hop fish ice salt coal peat wood oak ash elm thorn fern moss reed rush sedge marsh "
    "fen moor heath hill dale beck brook weir lock quay dock pier tide gull crab eel cod wool flax loom dye tan bark cork "
    "wax soap bell clock tower gate yard barn hay corn rye oat bean pea apple plum pear nut berry bread cake milk cheese "
    "butter cream lamb goat cow horse cart wheel wagon rail tram bus truck cycle pump fire smoke steam water well spring "
    "rain snow frost wind storm sun moon star north south east west stone brick slate lime chalk sand clay iron tin lead "
    "copper brass steel glass paper ink print book school church chapel abbey priest market fair inn ale beer wine cider "
    "lamp candle oil gas rope tar pitch hemp seed plant rose lily ivy vine hedge field meadow orchard garden park green"
)
B_PART = _w(
    "house yard loft shed barn works hall room side end foot head gate way lane path walk bridge ford bank edge top wall "
    "stead field croft garth land holm ridge cliff bay pool mouth reach keep store stall shop stand rack bench board box "
    "bin tub vat tank pit well shaft duct hatch door lid sill beam post rail stair step deck floor roof wright monger "
    "keeper master hand man folk maker smith bound proof fast wise most ward line mark stock ware gear load cart boat"
)
FACING = _w(
    "facing bound side proof lined damp warm blown bleached baked stained shaded fed built hung worn high deep"
)
ONSET = _w(
    "Br Thr Gw Skr Pl Cl Gl Dr Kn Tw Wr Fl Str Spr H M N P T V W D L R S B C F G J K Tr Cr Pr Bl Sl Sm Sn Sw Fr Gr Ch Sh Th"
)
VOWEL = _w("a e i o u ai ea oa ou y ee ie au ey")
CODA = _w(
    "l r n m lm rn ld nd st sk ft lk rth nth ck ss ll x rg rk mb lt nk dd ng sp rv lsh tt ph bb gg pp rl"
)
TAIL = _w(
    "wick mere fold rigg hythe combe garth sike ness holm stow worth bury ley den wold shaw hope cote by ton well thorpe "
    "gate law dean scar mouth haven ey leigh cross bank brae moor fleet strand"
)
WAYS = _w(
    "Street Lane Road Row Walk Hill Yard Rise Gardens Passage Parade Bank Green Steps Wynd Wharf Causeway Mews"
)

PLACES = {
    "residential": _l(
        "homes/flats/terraces/villas/cottages/apartments/maisonettes/bungalows/almshouses/mews/townhouses"
    ),
    "light-commercial": _l(
        "café/offices/clinic/restaurant/library/gym/school/bistro/pharmacy/town hall/barber shop/hotel/cinema/dental rooms/"
        "bowling hall/day nursery/swimming hall/laundry/arcade/hairdresser/college/courthouse/station/care home/bus garage/"
        "museum/gallery/bank/theatre/tearoom/surgery/veterinary practice/solicitors/estate agents/bookshop/dance school/"
        "village hall/crematorium/tannery showroom/golf clubhouse/yacht club/auction rooms/print shop/registry office"
    ),
    "food-retail": _l(
        "food hall/food store/convenience store/bakery/superstore/butcher/counter hall/greengrocer/delicatessen/farm shop/"
        "fishmonger/cash and carry/ice-cream parlour/cheese shop/filling-station shop/market hall/chocolate shop"
    ),
    "cold-store": _l("cold store/fish store/freezer store/potato store/fruit store/ice store/meat store"),
    "process": _l(
        "dairy/brewery/hospital plant room/ice rink/moulding works/cidery/cannery/laundry works/creamery/plating works/"
        "bottling hall/laboratory/foundry/chocolate works/dye works/printing works/distillery/vaccine store"
    ),
    "data-room": _l(
        "data room/exchange/server room/comms room/control room/broadcast room/signal box/computing centre"
    ),
    "transport": _l(
        "haulage depot/fish fleet/dairy fleet/flower fleet/catering vans/parcel depot/meat fleet"
    ),
}
UNIT_NAME = {
    "ductless-split": "Wall unit", "multi-split": "Multi split", "ducted-split": "Air handler", "vrf": "Floor system",
    "packaged-rooftop": "Rooftop unit", "heat-pump": "Heat pump", "condensing-unit": "Cold room",
    "compressor-rack": "Rack", "self-contained": "Cabinet", "chiller": "Chiller", "computer-room-unit": "Room cooler",
    "transport-unit": "Trailer",
}  # fmt: skip
KIND_WORDS = {
    "ductless-split": _l("wall unit/wall split/split/high wall unit/floor split"),
    "multi-split": _l("multi split/twin split/three-head split/multi"),
    "ducted-split": _l("ducted split/air handler/central system/ducted unit/cupboard unit"),
    "vrf": _l("floor system/variable-flow system/branch system/big roof system"),
    "packaged-rooftop": _l("rooftop unit/roof unit/packaged unit"),
    "heat-pump": _l("heat pump/house heat pump/water-heating pump/garden heat pump"),
    "condensing-unit": _l("cold room/walk-in/condensing unit/freezer room/chill room"),
    "compressor-rack": _l("rack/pack/compressor rack/plant"),
    "self-contained": _l("cabinet/drinks cabinet/serve-over counter/plug-in case/milk cabinet"),
    "chiller": _l("chiller/water chiller/yard chiller/process chiller"),
    "computer-room-unit": _l("room cooler/row cooler/server-room unit/close-control unit"),
    "transport-unit": _l("trailer unit/nose unit/van unit/truck unit"),
}

# ---------------------------------------------------------------------------------------------- templates

OPENERS = _l(
    "The call came {time} from the {role} at {site}: {complaint}/"
    "{Sky} over {hamlet} when we got to {site}, and the {role} was {feel}/"
    "At {site} the {kind} had been {trouble} since {month}/"
    "{Complaint_s}, said the {role}, and pointed at the {spot}/"
    "The {kind} stands behind the {spot}, two turnings off {street}, where {stuff} is stored/"
    "We knew this {kind} from {ago}, when it was {trouble} for another reason/"
    "Nobody at {site} could say when it began; the {role} only knew that it was {trouble}/"
    "A {day} job, {sky}, and a {role} who had been {feel} since {month}/"
    "{lost_s} of {refr} was missing from the {kind} at {site}, and the log gave {over} for it/"
    "It was meant to be a filter visit to {site}/"
    "The {kind} serves the {spot} and the {spot} beside it, and both were too warm/"
    "The sheet from {ago} said only that the {kind} was {trouble}/"
    "{Sky}, the {spot} locked, and the {role} gone to {hamlet} for the key: that is how it began/"
    "Our crew was at {shop} for something else when the {role} came across from {site}/"
    "Past {shop}, along {street} and in by the {spot}: the {kind} is not easy to reach/"
    "This {kind} holds {charge} of {refr} and had lost {lost} of it/"
    "The fault on the job sheet was one word: {trouble}/"
    "Between {hamlet} and {hamlet} lies {site}, and in its {spot} the {kind} in question/"
    "The {role} had read the gauge glass at {site} every {day} and kept the figures in pencil/"
    "They had moved {stuff} into the {spot} because the {kind} was {trouble}/"
    "We came by the {street} side because {why}/"
    "Second visit to {site} within the year, same {kind}, new {role}"
)
COMPLAINTS = _l(
    "the {spot} would not come down/ice on the coil again/a smell of oil in the {spot}/it ran all night without stopping/"
    "an alarm nobody could silence/water on the {stuff}/the breaker had gone twice/the room was at {deg} and rising/"
    "no heat since {day}/it gurgled/warm {stuff} and a queue at the door/the display showed a code/"
    "the {stuff} had begun to sweat/a hiss behind the {bit}/it cut out whenever {why}"
)
TROUBLES = _l(
    "short of gas/weak/noisy/icing up/tripping/running without a stop/warm/topped up and weak again/slow to pull down/"
    "starved/off its set point/on and off/hardly cooling/flat"
)
SKYLINES = _l(
    "Outside there was {sky}/{Sky} had got into the {spot}/With {sky} nobody wanted to hold a {tool} on the roof/"
    "{Sky} took the leak fluid off the {bit}/The wind came round the {thing} and cleared every trace/"
    "It was {deg} at the {spot}, and {sky}/{Sky} kept us under the {bit} for half an hour/"
    "The {facing} wall was {look} from the weather/We rigged a {tool} against {sky}/"
    "By the time we had the {tool} up there was {sky}"
)
ASIDES = _l(
    "The {role} brought tea and stayed to watch/A {animal} had nested behind the {bit}/"
    "Somebody had hung a {tool} on the {bit}/The {spot} was full of {stuff}/Under the {stuff} lay a {bit} that belonged nowhere/"
    "The {role} was {feel} and held the {tool}/Next door, at {shop}, they were stripping {stuff}/"
    "There is a {thing} across the way, and its exhaust comes in at the {spot}/We borrowed a {tool} from the {role}/"
    "The drawing in the {spot} shows the {thing} that was pulled down {ago}/The {bit} was {look} and the {bit} beside it {look}/"
    "The {role} remembered a {role} with a drill {ago}/A smell of {stuff} hung in the {spot}/"
    "We moved {stuff} for {c:twenty} minutes before a {tool} could be used/The {thing} dripped on us all the while/"
    "It took longer to find the isolator behind the {stuff} than to see what was wrong/The {role} asked whether {stuff} could have done it/"
    "Access is by the {spot} of {shop}, and {why}/The {bit} had been painted over, twice by the look of it/"
    "On the label somebody had written {n:14} and crossed it out/From the {spot} you look over to {hamlet}/"
    "The old {tool} had to do, because the new one was at {hamlet}/A {bit} had been left out {ago}/"
    "The panel screws were {look}, and {c:three} of them were missing/Between the {bit} and the {bit} there was room for one hand/"
    "The {street} traffic shook the {bit}/They keep {stuff} in the {spot}, which nobody had told us/"
    "The {facing} side had never been cleaned/A {thing} door stood open and let the draught through/"
    "We put a {tool} on the {bit} and went to fetch another {tool}/The {role} had already tried {stuff} and tape/"
    "Everyone we asked at {site} blamed the {thing}/The apprentice spotted that the {bit} was {look}/"
    "Work stopped {time}, because {why}/A {tool} rolled into the {thing} and had to be fished out with a {tool}"
)
STEP_CLEAN = _l(
    "{Tech} at the {place} gave nothing in {min} minutes/We went over the {place} {slow} with {tech_a}: clean/"
    "The {place} was dry and {tech_a} agreed/Nothing at the {place}, and {min} minutes gone/"
    "{Tech} first, at the {place}, because {why}; nothing/The {place} had been blamed {ago}, but {tech_a} found it tight/"
    "{Min} minutes with {tech_a} round the {place} and not a sign/We crossed off the {place} after {tech_a}"
)
STEP_FALSE = _l(
    "{Tech} cried out at the {place}, and it was the {stuff} in the {spot}/A false alarm at the {place}: fumes of {stuff}/"
    "The {place} answered {tech_a} until the {role} carried the {stuff} away/{Tech} was fooled at the {place} by {sky} and {stuff}"
)
STEP_LEAD = _l(
    "{Tech} stirred near the {place}, no more than that/There was a hint at the {place} with {tech_a}/"
    "{Tech} put us on the {place} side/At the {place} {tech_a} gave a lead worth following/"
    "After {min} minutes {tech_a} spoke for the {place}"
)
STEP_SECTION = _l(
    "{Tech} narrowed it to the {place}/With {tech_a} the loss was in the {place} and nowhere else/"
    "The {place} fell, the rest held/{Tech} took {min} minutes and left only the {place}"
)
STEP_FIND = _l(
    "{Tech} found it at the {place} in {min} minutes/Then the {place}: {tech_a} left no doubt/"
    "It was the {place}, shown by {tech_a} within {min} minutes/{Tech} went straight to the {place}/"
    "At the {place} {tech_a} had it, on the side away from the {spot}/The {place}, behind the {bit}, answered {tech_a} at once/"
    "We held the {tool} behind the {place} and {tech_a} showed the spot"
)
STEP_CONFIRM = _l(
    "{Tech} agreed/{Tech} said the same/We confirmed it with {tech_a}, {min} minutes more/"
    "A second look with {tech_a} settled it/Wiped, dried and tried again with {tech_a}: same spot/"
    "{Tech} at the same place, {slow}, and the {role} could see it too"
)
CAUSES = _l(
    "{Mode} it was, and the cause had a name: {contrib}/Behind it stood {contrib}, as so often with {mode}/"
    "The metal was {look} and {look}; {mode}, we wrote/{Contrib} had done it/What had led to it was {contrib}, plain to see once the {bit} was off/"
    "With the {bit} out of the way the {place} was {look} all round/The {place} had gone {look} on the underside/"
    "It had the marks of {mode}: {look} metal, a {look} rim, oil on the {bit}/We put it down to {contrib}/"
    "The {role} wanted to know why, and {contrib} is the honest answer/{Symptom} and {symptom} had pointed there from the start/"
    "{Symptom} should have told us sooner"
)
FIRST_WRONG = _l(
    "We first called it {wrong} and spent money on it/{Wrong} was our first answer, and it was wrong/"
    "The first visit had treated {wrong}; the loss went on/Our predecessor on the job had written {wrong}"
)
OPEN_END = _l(
    "It was not proven, and this record says so/We suspect the {place} and have not shown it/"
    "No step caught it at work/The rest is opinion until the {kind} is tested again/The customer chose to wait"
)
FIXES = {
    "default": _l(
        "{Action}, {labour} of work/{Action} and the {kind} weighed in again/{Action} on {day}, {time}"
    ),
    "no-repair": _l("Nothing was repaired that day/We left it as it was and told the {role} why"),
    "isolate-circuit": _l("The circuit was shut off until the {role} decides/We isolated it and went home"),
}
TESTS = _l(
    "It stood at {start} for {held} and moved no more than the {spot} cooled/{Start} of {medium} for {held} and the needle stayed/"
    "The test began at {start}, ended at {end}, and the temperature explains it/{held_s} under {medium}, then vacuum and charge"
)
LOOKS = _l(
    "On {lookday} it was {lookresult}/{lookday_s}: {lookresult}/Looked at again on {lookday}, {lookresult}/"
    "The follow-up on {lookday} found it {lookresult}"
)
CLOSERS = _l(
    "The {role} was {feel} but paid/We left {site} {time} with the {tool} under one arm/The old {bit} is in the box at the branch/"
    "{charge_s} went in by weight/A note for the next crew: the {spot} key hangs at {shop}/The {kind} has run since/"
    "Somebody should move that {stuff}/The {bit} was put back with new screws/We photographed the {place} for the file/"
    "The {tool} went back to {hamlet}/The lesson cost {min} minutes/We wrote the figures on the {bit} for whoever comes next/"
    "An ordinary job for a {day}, and {sky} all the while/The {role} now keeps the {spot} clear/Tea, at last, at {shop}/"
    "The {thing} still drips"
)
TITLES = _l(
    "{Part_t} of a {kind} leaks at {site}/{Mode_t} at the {part} of a {kind}, found {time}/"
    "{Site_t}: {part} {verb} after {over}/{Kind_t} loses {lost}, {part} {verb}/{Contrib_t} and a {look} {part} at {site}/"
    "{Part_t} {verb} beside the {spot}, {wrongly}/{Tech_t} finds the {part} that {tech_b} missed/"
    "{Mode_t} in the {spot} off {street}/{Kind_t} near {hamlet} {verb} at the {part}/"
    "{Stuff_t} in the {spot} hides a leak at the {part}/{Look_t} {part} on the {kind} of {site}/"
    "{Month} call to {site} ends at the {part}/The {part}, the {role} and the {tool}: {mode} at {hamlet}/"
    "{Part_t} gives way {time}, {kind} at {site}/{Symptom_t} at {site} leads to the {part}/"
    "Two visits and a {tool} for the {part} of a {kind}/{Part_t} behind the {bit} of a {kind} {verb}"
)
WRONGLY = _l(
    "after a wrong guess/after two clean searches/in a gale/behind {stuff}/on the second visit/while the shop was open/"
    "under a {bit}/with the {role} watching/and nobody heard it/first taken for {wrong_or_mode}"
)
VERBS = _l("weeps/leaks/gives way/lets go/bleeds/opens up/loses charge/seeps/fails")
LESSONS = _l(
    "Look behind the {bit} before you open the {place}, because {tech_a} does not see round corners/"
    "When {symptom} meets {symptom_2}, go to the {place} first/Carry the {stuff} out of the {spot} before you trust {tech_a}/"
    "A clean result with {tech_b} at the {place} means only that {tech_b} was clean/"
    "Ask the {role} what was done {ago}; at {hamlet} that was the whole answer/"
    "{Contrib} comes back unless the {bit} is put right as well/A {tool} and ten minutes of patience beat an hour with {tech_b}/"
    "On a {kind} the {place} sits where {sky} hides it, so bring a {tool}/{Mode} looks like something else until the {bit} is off/"
    "Write the background down before {tech_a}, above all beside {stuff}"
)
ADVICES = _l(
    "Asked the {role} to keep {stuff} out of the {spot}/The {role} was told that the {bit} will need replacing within the year/"
    "Asked for access through the {spot} and a key at {shop}/Told the {role} to ring at the first sign of {symptom}/"
    "Suggested a yearly look at the {place}, with the {bit} off/The {role} was shown the {place} and given the old {bit}/"
    "Advised a guard over the {bit}, because {why}/Asked that nobody hangs a {tool} on the {bit} again"
)
NOTES = _l(
    "Behind the {bit}, {look}/Fan off, {sky}/{Stuff_s} moved first/The {role} held the {tool}/Only with the {tool}/"
    "{Sky} at the {spot}/Both sides of the {bit}/Done {time}/{n:5} tries/Read {slow}/Next to the {thing}/The {bit} was {look}"
)
LOOK_NOTES = {
    "holding": _l("Dry, and the charge is as left/{n:1} ppm at the {place}/Pressures as left; {bit} tight/The {role} has no complaint/Weighed: nothing missing"),
    "leaking-again": _l("Same place, {n:35} ppm/Short again, and {look} at the {place}/The {bit} has moved; new job opened"),
    "other-leak": _l("The {place} holds; the loss is elsewhere/Another spot near the {bit}"),
}  # fmt: skip
SWAPS = {
    "tube": ["pipe", "line"], "pipe": ["tube"], "nut": ["nut", "gland nut"], "wall": ["wall", "partition"],
    "found": ["met", "caught"], "small": ["slight", "tiny"], "big": ["large", "great"],     "quick": ["hasty", "swift"], "went": ["climbed", "crept"], "said": ["told us", "remarked", "claimed"],
    "roof": ["roof", "parapet"], "door": ["door", "hatch"], "morning": ["forenoon", "afternoon", "evening"],
    "water": ["condensate", "water"], "cold": ["chilly", "icy"], "leak": ["loss", "escape"], "gas": ["refrigerant", "vapour"],
    "owner": ["customer", "householder", "tenant"], "shop": ["premises", "store"], "house": ["home", "dwelling"],
    "minutes": ["minutes", "min"], "fluid": ["soap", "leak fluid", "suds"], "bubbles": ["froth", "foam"],
    "insulation": ["lagging", "foam sleeve"], "screw": ["fixing", "fastener"], "machine": ["plant", "set"],
    "wind": ["breeze", "draught", "gusts"], "hour": ["hour", "while"], "again": ["once more", "afresh"],
}  # fmt: skip
_SWAP = re.compile(r"(?<![-\[:|])\b(" + "|".join(SWAPS) + r")\b(?![-\]|])")
_SLOT = re.compile(r"\{(\w+)(?::([^}]*))?\}")

_LONG = re.compile(r"(?<![\w\[|:-])[a-z]{6,14}(?![\w\]|-])")
SLIP = 0.0008
"""Share of longer words with two letters changed round, as people type (judgement)."""
_ARTICLE = re.compile(r"\b([Aa]) (?=[aeio])|\b([Aa])n (?=[bcdfgjklmnpqrstvwxyz][a-z])")


def _article(hit: re.Match[str]) -> str:
    return f"{hit[1]}n " if hit[1] else f"{hit[2]} "


VOCABULARY_C, VOCABULARY_B = 6.6, 0.74
"""Invented words after n uses: C n^B (Heaps' law; exponent chosen so that whole texts grow about as n^0.5)."""


class Names:
    """A stock of invented words: a new one as long as there are fewer than C n^B, otherwise one used before."""

    def __init__(self, rng: Random, make: Callable[[Random], str], share: float = 1.0) -> None:
        self.rng, self.make, self.share = rng, make, share
        self.used: list[str] = []
        self.known: set[str] = set()
        self.uses = 0

    def draw(self) -> str:
        """The next name; earlier ones in proportion to their use."""
        self.uses += 1
        if not self.used or len(self.known) < self.share * VOCABULARY_C * self.uses**VOCABULARY_B:
            for _ in range(5):
                word = self.make(self.rng)
                if word not in self.known:
                    break
            self.known.add(word)
        else:
            word = self.used[int(self.rng.random() * len(self.used))]
        self.used.append(word)
        return word


def invent(rng: Random) -> str:
    """A place name that means nothing."""
    word = rng.choice(ONSET) + rng.choice(VOWEL) + rng.choice(CODA)
    if rng.random() < 0.3:
        word += rng.choice(("a", "e", "o", "i", "er", "en", "el"))
    return word + rng.choice(TAIL)


def _compound(rng: Random) -> str:
    first, second = rng.choice(A_PART), rng.choice(B_PART)
    return first + second if first != second else first + "stead"


def _facing(rng: Random) -> str:
    return f"{rng.choice(A_PART)}-{rng.choice(FACING)}"


class Speech:
    """Fills templates. `facts` of the case come first, then the word lists, then invented names."""

    def __init__(self, rng: Random, towns: Sequence[str]) -> None:
        self.rng = rng
        self.towns = towns
        self.facts: Mapping[str, str] = {}
        self.recent: deque[str] = deque(maxlen=6)
        names = Names(rng, invent)
        compounds = Names(rng, _compound)
        facing = Names(rng, _facing, 0.6)
        shops = [n for group in PLACES.values() for n in group if not n.endswith("s")]
        self.makers: dict[str, Callable[[], str]] = {
            "hamlet": names.draw,
            "street": lambda: f"{names.draw()} {rng.choice(WAYS)}",
            "shop": lambda: f"the {rng.choice((names.draw, self._capital_compound))()} {rng.choice(shops)}",
            "thing": compounds.draw,
            "facing": facing.draw,
            "town": lambda: rng.choice(self.towns),
            "deg": lambda: f"{rng.randint(-8, 41)} degrees",
            "trouble": lambda: rng.choice(TROUBLES),
            "verb": lambda: rng.choice(VERBS),
            "complaint": lambda: self.fill(rng.choice(COMPLAINTS)),
            "wrongly": lambda: self.fill(rng.choice(WRONGLY)),
        }
        self._compounds = compounds

    def _capital_compound(self) -> str:
        return self._compounds.draw().capitalize()

    def word(self, key: str, given: str | None) -> str:
        """What stands for a slot; a capital slot name gives a capital word, `_t` and `_s` a capital start."""
        if given is not None:
            return self._number(given) if key == "n" else self.rng.choice(COUNTS)
        fact = self.facts.get(key)
        if fact is not None:
            return fact
        if key[0].isupper():
            low = key[0].lower() + key[1:]
            text = self.word(low.removesuffix("_t").removesuffix("_s"), None)
            return text[:1].upper() + text[1:]
        if key.endswith(("_s", "_t")):
            text = self.word(key[:-2], None)
            return text[:1].upper() + text[1:]
        maker = self.makers.get(key)
        if maker is not None:
            return maker()
        listed = LISTS[key]
        for _ in range(4):
            word = listed[int(len(listed) * self.rng.random() ** 1.5)]  # skewed, as words are
            if word not in self.recent:
                break
        self.recent.append(word)
        return word

    def _number(self, given: str) -> str:
        plain = given.replace(",", "")
        value = float(plain) * exp(self.rng.gauss(0, 0.25))
        if "." in plain:
            return f"{value:.{len(plain.split('.')[1])}f}"
        return str(max(1, round(value))) if float(plain) else "0"

    def fill(self, template: str) -> str:
        """A template with every slot filled."""
        return _ARTICLE.sub(_article, _SLOT.sub(lambda m: self.word(m[1], m[2]), template))

    def say(self, templates: Sequence[str]) -> str:
        """One filled template as a sentence."""
        text = self.fill(self.rng.choice(templates))
        text = text[:1].upper() + text[1:]
        return text if text[-1] in ".?!" else text + "."

    def quote(self, sentence: str) -> str:
        """A demo sentence with other numbers, names and some other words."""
        swap = self.rng.random
        text = _SWAP.sub(lambda m: self.rng.choice(SWAPS[m[1]]) if swap() < 0.4 else m[1], sentence)
        return self.fill(text)


# ---------------------------------------------------------------------------------------------- register


@dataclass
class System:
    """A circuit of the register and what happened to it."""

    id: str
    site: Site
    name: str
    kind: str
    refrigerant: str
    kg: float
    installed: dt.date
    crew: str
    metric: bool
    lines: list[str]
    cases: list[tuple[dt.date, str, str]] = field(default_factory=list)

    @property
    def charge(self) -> str:
        """Full charge as the register writes it."""
        return mass(self.kg, self.metric)


@dataclass(frozen=True)
class Site:
    """A place that the company looks after."""

    key: str
    name: str
    branch: str
    setting: str
    batch: str | None = None


@dataclass(frozen=True)
class Branch:
    """A branch; `weight`: its share of the work."""

    key: str
    prefix: str
    crews: tuple[str, ...]
    weight: float
    coastal: bool


def kilograms(written: str) -> float:
    """kg of a mass as the demo writes it (`9 lb 8 oz`, `1.8 kg`)."""
    factor = {"kg": 1.0, "lb": 0.45359237, "oz": 0.028349523125}
    return sum(float(n) * factor[u] for n, u in re.findall(r"([\d.]+) (kg|lb|oz)", written))


def mass(kg: float, metric: bool) -> str:
    """A mass as a technician writes it, rounded down so that no more is lost than was there."""
    if metric or kg < 0.4:
        step = 0.01 if kg < 1 else 0.1 if kg < 20 else 1
        digits = 2 if kg < 1 else 1 if kg < 20 else 0
        return f"{max(step, int(kg / step + 1e-6) * step):.{digits}f} kg"
    ounces = int(kg / 0.028349523125)
    if ounces >= 25 * 16:
        return f"{ounces // 16} lb"
    pounds, rest = divmod(ounces, 16)
    return " ".join(filter(None, (pounds and f"{pounds} lb", rest and f"{rest} oz"))) or "1 oz"


def _branches(rng: Random, cases: int) -> list[Branch]:
    """3 to 12 branches, growing slowly with the size."""
    count = min(12, max(3, round(3 + 3.2 * (log10(max(cases, 100)) - 2))))
    crews_each = min(8, max(2, round(2 + 1.6 * (log10(max(cases, 100)) - 2))))
    out: list[Branch] = []
    prefixes: set[str] = set()
    while len(out) < count:
        name = invent(rng)
        prefix = (name[0] + name[-3:][0]).upper()
        if prefix in prefixes or not name.isascii():
            continue
        prefixes.add(prefix)
        number = max(1, crews_each + rng.randint(-1, 1))
        crews = tuple(f"{prefix}{i + 1}" for i in range(number))
        out.append(Branch(name, prefix, crews, 0.5 + rng.random(), rng.random() < 0.5))
    return out


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower().replace("é", "e")).strip("-")[:60].rstrip("-")


def _register(
    rng: Random, branches: Sequence[Branch], cases: int, first: dt.date
) -> tuple[list[Site], list[System]]:
    wanted = max(60, int(1.4 * cases**0.91))
    by_setting: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for archetype in trade().systems:
        by_setting[archetype["setting"]].append(archetype)
    settings = sorted(by_setting)
    weights = [len(by_setting[s]) / (9 if s == "residential" else 4) for s in settings]
    names = Names(rng, invent)
    compounds = Names(rng, _compound)
    sites: list[Site] = []
    systems: list[System] = []
    keys: set[str] = set()
    number = 100
    while len(systems) < wanted:
        setting = rng.choices(settings, weights)[0]
        branch = rng.choices(branches, [b.weight for b in branches])[0]
        what = rng.choice(PLACES[setting])
        start = names.draw() if rng.random() < 0.6 else compounds.draw().capitalize()
        name = f"{start} {rng.choice(WAYS)} {what}" if rng.random() < 0.3 else f"{start} {what}"
        key = _slug(name)
        if key in keys:
            key = f"{key[:50]}-{len(sites)}"
        keys.add(key)
        batch = (
            f"{start} phase {rng.randint(1, 3)}" if setting == "residential" and rng.random() < 0.4 else None
        )
        site = Site(key, name, branch.key, setting, batch)
        sites.append(site)
        archetypes = by_setting[setting]
        usual = rng.choice(archetypes)
        crew = rng.choice(branch.crews)
        for index in range(1 + min(17, int(rng.expovariate(0.14 if setting == "residential" else 0.28)))):
            same = rng.random() < (0.8 if setting == "residential" else 0.3)
            like = usual if same else rng.choice(archetypes)
            early, late = PUT_IN.get(like["refrigerant"], (2008, 2024))
            late = min(late, LAST_REPORT.year - 1)
            installed = dt.date(rng.randint(early, late), rng.randint(1, 12), 1)
            number += rng.choice((1, 1, 1, 2, 3))
            metric = rng.random() < 0.5
            kg = kilograms(like["charge"]) * exp(rng.gauss(0, 0.14))
            lines = []
            if "line_set" in like:
                lines = [like["line_set"].get("route", "none"), str(max(2, round(exp(rng.gauss(2.3, 0.6)))))]
                lines += [like["line_set"].get(k, "") for k in ("liquid", "suction")]
            unit = f"{UNIT_NAME[like['kind']]} {index + 1}"
            if setting == "residential":
                unit = f"{'Plot' if batch else 'Flat' if what in ('flats', 'apartments') else 'House'} {index + 1}"
            builder = crew if rng.random() < 0.8 else rng.choice(branch.crews)
            kg = kilograms(mass(kg, metric))
            systems.append(
                System(f"S-{number:04d}", site, unit, like["kind"], like["refrigerant"], kg, installed, builder, metric, lines)
            )  # fmt: skip
    return sites, systems


# ---------------------------------------------------------------------------------------------- a case


@dataclass
class Step:
    """A search step."""

    technique: str
    at: list[str]
    minutes: int
    result: str
    running: bool | None = None
    pressure: str | None = None
    cost: int | None = None
    note: str | None = None


@dataclass(frozen=True)
class Return:
    """A repair that did not hold and comes back as a case of its own."""

    due: dt.date
    system: System
    mode: str
    component: str
    case: str


POINTS = (
    "bubble-test",
    "heated-diode-detector",
    "infrared-detector",
    "visual",
    "ultrasonic",
    "bagging",
    "tracer-gas",
    "dye",
)
NARROWS = ("section-isolation", "standing-pressure", "vacuum-hold", "air-survey")
PRESSURISED = ("section-isolation", "standing-pressure", "tracer-gas")


class Maker:
    """Makes the cases of one library, one after another in the order of their dates."""

    def __init__(self, rng: Random, branches: Sequence[Branch], systems: Sequence[System]) -> None:
        self.rng, self.trade = rng, trade()
        self.branches = {b.key: b for b in branches}
        self.speech = Speech(rng, [b.key for b in branches])
        self.of_kind: dict[str, list[System]] = defaultdict(list)
        for system in systems:
            self.of_kind[system.kind].append(system)
        self.modes = list(self.trade.modes)
        self.mode_weights = [HOW_COMMON[self.trade.modes[m]["how_common"]] for m in self.modes]
        self.kinds_of_mode: dict[str, tuple[list[str], list[int]]] = {}
        for mode in self.modes:
            kinds = [k for k in sorted(self.of_kind) if self.trade.parts(mode, k)]
            self.kinds_of_mode[mode] = kinds, [len(self.of_kind[k]) for k in kinds]
        self.counters: dict[tuple[str, int], int] = defaultdict(int)
        self.returns: deque[Return] = deque()
        self.renumbered = 0
        on, entries = self.trade.on, self.trade.components
        self.parts_of_kind = {
            k: [c for c, e in entries.items() if e["kind"] == "part" and k in on[c]] for k in K.values()
        }
        self.areas_of_kind = {
            k: [c for c, e in entries.items() if e["kind"] == "area" and k in on[c]] for k in K.values()
        }

    # -- choice of the facts

    def _system(self, mode: str, day: dt.date) -> System:
        """A system that can fail so, mostly of the age at which it does; never twice within a month."""
        rng = self.rng
        kinds, weights = self.kinds_of_mode[mode]
        low, high = AGES.get(mode, (0.0, 30.0))
        best: System | None = None
        for attempt in range(400):
            system = rng.choice(self.of_kind[rng.choices(kinds, weights)[0]])
            age = (day - system.installed).days / 365.25
            if age < 0.1 or any(m == mode and (day - d).days < 30 for d, m, _ in system.cases):
                continue
            best = system
            if mode == "buried-line-corrosion" and attempt < 60 and "floor-duct" not in system.lines[:1]:
                continue
            if low <= age <= high or attempt > 60:
                break
        if best is None:
            raise ValueError(f"no system of this register can have {mode} on {day}; ask for more cases")
        return best

    def _component(self, mode: str, system: System) -> str:
        fitting = self.trade.parts(mode, system.kind)
        if "floor-duct" not in system.lines[:1] and len(fitting) > 1:
            fitting = [c for c in fitting if c != "buried-line"] or fitting
        weights = [1 / (1 + 0.5 * i) for i in range(len(fitting))]  # the guide names the usual place first
        return self.rng.choices(fitting, weights)[0]

    def _symptoms(self, mode: str, system: System) -> tuple[list[str], list[str]]:
        rng = self.rng
        shown: dict[str, float] = {}
        for word, listed in self.trade.modes[mode]["symptoms"].items():
            for symptom in listed:
                shown[symptom] = SEEN[word]
        barred = set()
        if system.kind not in ("chiller", "heat-pump"):
            barred.add("gas-in-water")
        if system.kind in ("ductless-split", "multi-split", "self-contained", "heat-pump", "transport-unit"):
            barred.add("fixed-detector-alarm")
        if "relief-valve" not in self.parts_of_kind[system.kind]:
            barred.add("vent-line-trace")
        every = self.trade.words["symptoms"]
        seen = [s for s in every if s not in barred and rng.random() < shown.get(s, UNLISTED)]
        if "sudden-loss" in seen and "repeat-top-up" in seen:
            seen.remove("repeat-top-up")
        seen = seen or ["short-of-charge"]
        rng.shuffle(seen)
        asked = [
            "oil-film",
            "visible-corrosion",
            "rub-mark",
            "hissing",
            "loss-after-work",
            "oil-drip",
            "cap-missing",
        ]
        for other in self.trade.modes[mode]["mistaken_for"]:
            told = self.trade.modes[other]["symptoms"]
            asked += told.get("nearly-always", []) + told.get("often", [])
        absent: list[str] = []
        for _ in range(rng.choices((0, 1, 2, 3, 4), (2, 10, 35, 47, 6))[0]):
            symptom = rng.choice(asked)
            if symptom not in seen and symptom not in absent and symptom not in barred:
                absent.append(symptom)
        return seen, absent

    def _conditions(self, mode: str, system: System, day: dt.date, celsius: int) -> list[str]:
        rng, setting = self.rng, system.site.setting
        odds = {
            "low-ambient": 0.5 if celsius < 6 else 0.0, "high-ambient": 0.5 if celsius > 28 else 0.0,
            "wind": 0.2, "rain": 0.1, "humid": 0.07,
            "coastal-air": 0.35 if self.branches[system.site.branch].coastal else 0.01,
            "noisy": 0.4 if system.kind in ("compressor-rack", "chiller", "computer-room-unit") else 0.12,
            "product-inside": 0.6 if setting in ("food-retail", "cold-store", "transport") else 0.0,
            "no-access": 0.14, "vibration": 0.5 if mode in ("vibration-crack", "small-tube-fatigue", "rub-through") else 0.03,
            "background-refrigerant": 0.12, "new-finishes": 0.3 if mode == "formicary-corrosion" else 0.06,
            "fumes": 0.2 if setting == "transport" else 0.04,
            "cleaner-in-use": 0.5 if mode == "chemical-attack" else 0.04,
            "recent-service": 0.45 if mode in ("valve-core", "valve-packing-or-cap") else 0.04,
            "recent-building-work": 0.75 if mode == "fastener-puncture" else 0.03,
            "storm-or-hail": 0.25 if mode == "impact" else 0.02,
            "food-acids": 0.3 if mode in ("coil-turn-leak", "chemical-attack") and setting == "food-retail" else 0.02,
            "confined-space": 0.04, "standing-water": 0.5 if mode == "buried-line-corrosion" else 0.02,
            "power-cut": 0.3 if mode == "freeze-burst" else 0.01, "pool-chemicals": 0.01,
        }  # fmt: skip
        return [c for c, p in odds.items() if rng.random() < p][:5]

    def _area(self, component: str, kind: str) -> str:
        inside = [a for a in self.trade.components[component]["within"] if kind in self.trade.on[a]]
        return self.rng.choice(inside or list(self.trade.components[component]["within"]) or [component])

    def _technique(self, mode: str, deaf: set[str], among: Sequence[str], early: bool) -> str:
        weights = []
        for key in among:
            entry = self.trade.techniques[key]
            weight = 4.0 if mode in entry["good_for"] else 0.3 if mode in entry["poor_for"] else 1.0
            if key in self.trade.modes[mode]["found_by"]:
                weight *= 1.6
            if key == "bubble-test" and not early:
                weight *= 2.2
            if early:
                weight = (weight**0.3) * 6 / self.trade.order[key]
            elif key == "dye":
                weight *= 0.4
            weights.append(0.0 if key in deaf else weight)
        return self.rng.choices(list(among), weights)[0]

    def _minutes(self, technique: str, places: int) -> int:
        told = self.trade.techniques[technique]["minutes"]
        usual = told["set_up"] + told["each_place"] * places
        return max(1, round(usual * exp(self.rng.gauss(0.1, 0.35))))

    def _step(self, technique: str, at: list[str], result: str, refrigerant: str, metric: bool) -> Step:
        rng = self.rng
        step = Step(technique, at, self._minutes(technique, len(at)), result)
        entry = self.trade.techniques[technique]
        if rng.random() < 0.6:
            step.running = entry["running"] == "running" or (
                entry["running"] == "either" and rng.random() < 0.3
            )
        if technique in PRESSURISED or (technique in ("bubble-test", "ultrasonic") and rng.random() < 0.2):
            step.pressure = self._pressure(refrigerant, metric)
            step.running = False
        if technique in (*PRESSURISED, "dye") and rng.random() < 0.7:
            step.cost = rng.randint(12, 70)
        return step

    def _pressure(self, refrigerant: str, metric: bool) -> str:
        low, high = TEST_BAR.get(refrigerant, (16, 28))
        bar = self.rng.uniform(low, high)
        return f"{round(bar * 2) / 2:g} bar" if metric else f"{round(bar * 14.5038 / 5) * 5} psig"

    def _search(self, mode: str, component: str, system: System, proof: str) -> list[Step]:
        """A search played out: places and techniques until it is found, with a chance to miss it each time."""
        rng, kind, gas, metric = self.rng, system.kind, system.refrigerant, system.metric
        deaf = DEAF.get(gas, set())
        steps: list[Step] = []
        others = [c for c in self.parts_of_kind[kind] if c != component]
        for turn in range(rng.choices((0, 1, 2, 3, 4, 5), (14, 28, 28, 17, 9, 4))[0]):
            technique = self._technique(mode, deaf, (*POINTS, "air-survey"), early=turn == 0)
            if technique == "air-survey":
                at = [rng.choice(self.areas_of_kind[kind] or [self._area(component, kind)])]
            elif rng.random() < 0.3:
                at = [self._area(component, kind) if rng.random() < 0.5 else rng.choice(others)]
            else:
                at = rng.sample(others, min(len(others), rng.choice((1, 1, 2, 2, 3))))
            covers = component in at or any(a in self.trade.components[component]["within"] for a in at)
            entry = self.trade.techniques[technique]
            sees = 0.75 if mode in entry["good_for"] else 0.25 if mode in entry["poor_for"] else 0.5
            if covers and rng.random() < sees:
                result = "lead"
            elif rng.random() < 0.1:
                result = "false-alarm"
            else:
                result = "clean"
            steps.append(self._step(technique, at, result, gas, metric))
        if proof == "section" or (proof in ("point", "held") and rng.random() < 0.18):
            technique = self._technique(mode, deaf, NARROWS, early=False)
            narrowed = "lead" if technique == "air-survey" else "section"
            steps.append(self._step(technique, [self._area(component, kind)], narrowed, gas, metric))
        if proof == "suspected":
            technique = self._technique(mode, deaf, POINTS, early=False)
            result = "lead" if rng.random() < 0.7 else "clean"
            steps.append(self._step(technique, [self._area(component, kind)], result, gas, metric))
        if proof in ("point", "held"):
            if rng.random() < 0.06:  # missed at the very place
                technique = self._technique(mode, deaf, POINTS, early=True)
                steps.append(self._step(technique, [component], "clean", gas, metric))
            finder = self._technique(mode, deaf, POINTS, early=False)
            second = self._technique(mode, deaf, [t for t in POINTS if t != finder], early=False)
            steps.append(self._step(finder, [component], "pinpointed", gas, metric))
            steps.append(self._step(second, [component], "confirmed", gas, metric))
        return steps

    def _action(self, mode: str, component: str, proof: str) -> str:
        rng = self.rng
        if proof == "suspected" and rng.random() < 0.35:
            return rng.choice(("no-repair", "no-repair", "isolate-circuit"))
        by_mode = {
            "flare-joint": "remake-flare", "valve-core": "replace-core", "valve-packing-or-cap": "repack-valve",
            "gasket-or-o-ring": "replace-gasket", "shaft-seal": "replace-shaft-seal", "threaded-joint": "reseal-thread",
            "relief-device-weep": "replace-relief-device", "vessel-rust": "replace-vessel",
            "freeze-burst": "replace-exchanger", "small-tube-fatigue": "replace-small-tube",
        }  # fmt: skip
        rarer = {
            "flare-joint": "tighten-to-torque", "threaded-joint": "replace-fitting", "valve-packing-or-cap": "replace-valve",
            "small-tube-fatigue": "rebraze",
        }  # fmt: skip
        if mode in by_mode:
            return rarer[mode] if mode in rarer and rng.random() < 0.08 else by_mode[mode]
        if component.endswith(("coil", "coil-turn", "header")):
            usual = "rebraze" if mode in ("coil-turn-leak", "braze-pinhole") else "replace-coil"
            return usual if rng.random() < 0.8 else ("replace-coil" if usual == "rebraze" else "rebraze")
        if component in ("capillary-tube", "distributor-tube", "pressure-tube"):
            return "replace-small-tube"
        if component in ("accumulator", "liquid-receiver", "oil-separator"):
            return "rebraze" if mode == "braze-pinhole" else "replace-vessel"
        if component == "water-exchanger":
            return "replace-exchanger"
        if component in ("outdoor-service-valve", "reversing-valve", "expansion-valve", "service-port"):
            return "rebraze" if mode == "braze-pinhole" else "replace-valve"
        if component.endswith("flare"):
            return "remake-flare"
        if component == "compressor-body":
            return "replace-unit"
        if mode == "buried-line-corrosion":
            return "replace-line-set"
        if mode == "braze-pinhole":
            return "rebraze" if rng.random() < 0.85 else "replace-tube-section"
        if mode == "vibration-crack" and rng.random() < 0.1:
            return "reroute-and-support"
        return "replace-tube-section"

    def _fix(self, action: str, system: System, lost: float, proof: str) -> tuple[list[str], dict[str, str]]:
        """Lines of the fix without the hold test, and words about it."""
        rng = self.rng
        costs = {
            "remake-flare": (3, 9, 1.2), "tighten-to-torque": (0, 2, 0.6), "replace-core": (3, 22, 0.7),
            "repack-valve": (3, 20, 1.0), "replace-coil": (300, 1500, 6.0), "replace-line-set": (120, 600, 9.0),
            "replace-vessel": (180, 1900, 7.0), "replace-exchanger": (500, 4200, 12.0), "replace-unit": (700, 5200, 9.0),
            "replace-relief-device": (140, 420, 2.4), "replace-shaft-seal": (90, 340, 4.5), "no-repair": (0, 0, 0.8),
            "isolate-circuit": (0, 0, 1.2),
        }  # fmt: skip
        low, high, hours = costs.get(action, (8, 130, 2.8))
        labour = f"{max(0.5, round(hours * exp(rng.gauss(0, 0.3)) * 2) / 2):g} h"
        lines = [f"action: {action}"]
        if high:
            lines.append(f"parts: {round(low + (high - low) * rng.random() ** 1.6)} USD")
        lines.append(f"labour: {labour}")
        if action not in ("no-repair", "isolate-circuit"):
            kg = system.kg if rng.random() < 0.55 or lost > 0.6 * system.kg else lost
            lines.append(f"charge_added: {mass(max(kg, 0.02), system.metric)}")
        return lines, {"action": self.trade.words["actions"][action], "labour": labour}

    def _hold_test(self, system: System, celsius: int, medium: str) -> tuple[str, dict[str, str]]:
        """A hold test that passed, and words about it."""
        rng, metric = self.rng, system.metric
        held = rng.choice(("20 min", "1 h", "2 h", "4 h", "12 h", "16 h", "18 h", "24 h"))
        if medium == "vacuum":
            start = rng.randint(25, 48) * 10
            end = f"{start + rng.randint(0, 20) * 10} micron"
            words = {"start": f"{start} micron", "end": end, "held": held, "medium": "vacuum"}
            return f"{{medium: vacuum, start: {start} micron, end: {end}, over: {held}}}", words
        start = self._pressure(system.refrigerant, metric)
        warm = max(2, celsius + rng.randint(0, 6))
        cool = warm + (
            rng.choice((0, 0, 1)) if held.endswith("min") else rng.choice((-6, -4, -3, -2, -1, 0, 1, 2))
        )
        if metric:
            shown, ratio = (f"{warm} degC", f"{cool} degC"), (cool + 273.15) / (warm + 273.15)
            end = f"{max(0.1, (float(start.split()[0]) + 1.01325) * ratio - 1.01325 - rng.random() * 0.02):.1f} bar"
        else:
            warm, cool = round(warm * 1.8 + 32), round(cool * 1.8 + 32)
            shown, ratio = (f"{warm} degF", f"{cool} degF"), (cool + 459.67) / (warm + 459.67)
            end = f"{round((float(start.split()[0]) + 14.696) * ratio - 14.696 - rng.random() * 0.4)} psig"
        words = {
            "start": start,
            "end": end,
            "held": held,
            "medium": "nitrogen" if "nitrogen" in medium else "its own gas",
        }
        return (
            f"{{medium: {medium}, start: {start}, end: {end}, start_temp: {shown[0]}, end_temp: {shown[1]}, over: {held}}}",
            words,
        )

    def _readings(self, steps: Sequence[Step], component: str) -> list[str]:
        rng, lines = self.rng, []
        for step in steps:
            if len(lines) >= 4 or rng.random() < 0.35:
                continue
            at = component if component in step.at else step.at[0]
            hit = step.result in ("pinpointed", "confirmed", "section", "lead", "false-alarm")
            noted = f", note: {quoted(self._note())}" if rng.random() < 0.3 else ""
            if step.technique in (
                "heated-diode-detector",
                "infrared-detector",
                "bagging",
                "air-survey",
                "tracer-gas",
            ):
                background = 0 if step.technique == "tracer-gas" else rng.choice((0, 0, 1, 1, 2, 3, 4))
                size = (
                    exp(rng.gauss(3.6 if step.result in ("pinpointed", "confirmed") else 2.2, 0.9))
                    if hit
                    else 0.0
                )
                lines.append(
                    f"{{at: {at}, by: {step.technique}, value: {round(background + size)} ppm, background: {background} ppm{noted}}}"
                )
            elif step.technique == "ultrasonic":
                quiet = rng.randint(18, 34)
                loud = quiet + (rng.randint(5, 30) if hit else rng.randint(0, 2))
                lines.append(f"{{at: {at}, by: ultrasonic, value: {loud} dB, background: {quiet} dB{noted}}}")
            elif step.technique == "vacuum-hold":
                lines.append(
                    f"{{at: {at}, by: vacuum-hold, value: {rng.randint(60, 300) * 10} micron{noted}}}"
                )
            elif step.technique in ("standing-pressure", "section-isolation") and step.pressure:
                number, unit = step.pressure.split()
                left = float(number) * (rng.uniform(0.6, 0.96) if hit else 1.0)
                shown = f"{left:.1f} bar" if unit == "bar" else f"{round(left)} psig"
                lines.append(f"{{at: {at}, by: {step.technique}, value: {shown}{noted}}}")
        return lines

    # -- words

    def _note(self) -> str:
        return self.speech.say(NOTES)[:180]

    def _said(self, technique: str) -> str:
        return self.rng.choice(SAID[technique])

    def _step_sentence(self, step: Step) -> str:
        words = self.trade.words["components"]
        tech = self._said(step.technique)
        place = words[step.at[0]].lower()
        told = {
            "tech_a": tech, "Tech": tech[:1].upper() + tech[1:], "place": place,
            "min": str(step.minutes), "Min": str(step.minutes),
        }  # fmt: skip
        base = self.speech.facts
        self.speech.facts = {**base, **told}
        text = self.speech.say(STEP_TEMPLATES[step.result])
        self.speech.facts = base
        return text

    def _story(
        self, mode: str, steps: Sequence[Step], proof: str, extra: Sequence[str], tail: Sequence[str]
    ) -> str:
        """90 to 200 words about the facts of the case."""
        rng, speech = self.rng, self.speech
        wanted = rng.randint(100, 188)
        middle = [self._step_sentence(s) for s in steps if s.result != "clean" or rng.random() < 0.7]
        own = self.trade.sentences[mode]
        every = self.trade.sentences[rng.choice(self.modes)]
        taken = [*rng.sample(own, min(6, len(own))), *rng.sample(every, min(3, len(every)))]
        if rng.random() < 0.3:
            rng.shuffle(taken)
        demo = iter(dict.fromkeys(taken))  # no sentence twice in one story
        borrowed = [speech.quote(sentence) for sentence in (next(demo, ""), next(demo, "")) if sentence]
        start = [speech.say(OPENERS)]
        if rng.random() < 0.6:
            start.append(speech.say(SKYLINES))
        start += borrowed[:1]
        cause = [*extra]
        if proof in ("point", "held"):
            cause.append(speech.say(CAUSES))
        else:
            cause.append(speech.say(OPEN_END))
        end = [*tail, speech.say(CLOSERS)]
        blocks = [start, middle, [*borrowed[1:], *cause], end]

        def size() -> int:
            return sum(len(s.split()) for block in blocks for s in block)

        for index in rng.choices((0, 1, 1, 2, 3), k=24):
            if size() >= wanted:
                break
            block = blocks[index]
            sentence = next(demo, "") if rng.random() < 0.3 else ""
            more = speech.quote(sentence) if sentence else speech.say(ASIDES)
            block.insert(rng.randint(1, len(block)) if block else 0, more)
        for index in (1, 2, 1, 2, 1, 1, 1, 0):  # too long: leave some of the search untold
            if size() <= 200:
                break
            if len(blocks[index]) > 2:
                blocks[index].pop(rng.randrange(len(blocks[index]) - 1))
        if rng.random() < 0.4:
            blocks = [blocks[0], blocks[1] + blocks[2], blocks[3]]
        text = "\n\n".join(" ".join(block) for block in blocks if block)
        return _LONG.sub(lambda m: self._slip(m[0]) if rng.random() < SLIP else m[0], text)

    def _slip(self, word: str) -> str:
        at = self.rng.randrange(1, len(word) - 2)
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]

    # -- the case

    def case(self, day: dt.date) -> tuple[str, int, str]:
        """One case: number, year, text of the record."""
        rng, words, speech = self.rng, self.trade.words, self.speech
        back: Return | None = None
        if self.returns and self.returns[0].due <= day:
            back = self.returns.popleft()
            if any(m == back.mode and (day - d).days < 30 for d, m, _ in back.system.cases):
                back = None
        if back is not None:
            mode, system, component = back.mode, back.system, back.component
        else:
            mode = rng.choices(self.modes, self.mode_weights)[0]
            system = self._system(mode, day)
            component = self._component(mode, system)
        branch = self.branches[system.site.branch]
        self.counters[branch.prefix, day.year] += 1
        number = f"{branch.prefix}-{day.year}-{self.counters[branch.prefix, day.year]:03d}"
        crew = system.crew if rng.random() < 0.35 else rng.choice(branch.crews)
        kind, gas, metric = system.kind, system.refrigerant, system.metric
        registered = back is not None or rng.random() > 0.05
        proof = rng.choices(list(PROOF), list(PROOF.values()))[0]
        seen, absent = self._symptoms(mode, system)
        season = 9.5 - 9 * (1 if day.month in (12, 1, 2) else -1 if day.month in (6, 7, 8) else 0)
        celsius = round(rng.gauss(season + 4, 5))
        conditions = self._conditions(mode, system, day, celsius)
        steps = self._search(mode, component, system, proof)
        told = self.trade.modes[mode]["contributing"]
        contributing = rng.sample(told, min(len(told), rng.choice((1, 1, 1, 2, 2, 3))))
        closed = day + dt.timedelta(days=int(rng.expovariate(0.16)))
        lost, over, topped = self._loss(mode, seen, system, day)
        action = self._action(mode, component, proof)
        fix, fix_words = self._fix(action, system, lost, proof)
        repaired = action not in ("no-repair", "isolate-circuit")
        hold, hold_words = "", dict[str, str]()
        passed = False
        if repaired and rng.random() < (0.8 if proof == "held" else 0.6):
            medium = rng.choices(("nitrogen", "vacuum", "refrigerant"), (87, 10, 3))[0]
            hold, hold_words = self._hold_test(system, celsius, medium)
            passed = medium != "vacuum"
        looks: list[tuple[dt.date, str]] = []
        needed = proof == "held" and not passed
        date = closed + dt.timedelta(days=rng.choice((0, 20, 30)) + int(rng.expovariate(1 / 150)))
        if needed and date > LAST_LOOK:
            date = closed + dt.timedelta(days=rng.randint(0, max(0, (LAST_LOOK - closed).days)))
        if needed or (repaired and date <= LAST_LOOK and rng.random() < 0.86):
            result = "holding"
            if proof != "held" and repaired and rng.random() < 0.15:
                result = "leaking-again"
            elif repaired and rng.random() < 0.02:
                result = "other-leak"
            looks.append((date, result))
        again = bool(looks) and looks[0][1] == "leaking-again"
        first: tuple[str, int, int] | None = None
        if rng.random() < 0.09:
            first = (
                rng.choice(self.trade.modes[mode]["mistaken_for"]),
                rng.randint(20, 240),
                rng.randint(15, 420),
            )
        also: tuple[str, str] | None = None
        if proof in ("point", "held") and rng.random() < 0.06:
            other = rng.choices(self.modes, self.mode_weights)[0]
            fitting = [c for c in self.trade.parts(other, kind) if c != component]
            if fitting and other != mode:
                also = other, rng.choice(fitting)
                deaf = DEAF.get(gas, set())
                finder = self._technique(other, deaf, POINTS, early=False)
                second = self._technique(other, deaf, [t for t in POINTS if t != finder], early=False)
                steps.append(self._step(finder, [also[1]], "pinpointed", gas, metric))
                steps.append(self._step(second, [also[1]], "confirmed", gas, metric))
        site = system.site.name
        wrong = words["modes"][first[0]].lower() if first else ""
        part = words["components"][component].lower()
        usual = self.trade.modes[mode]["symptoms"]["often"]
        second_sign = seen[-1] if len(seen) > 1 else next((s for s in usual if s not in seen), seen[0])
        facts = {
            "site": site if registered else f"a place near {speech.makers['hamlet']()}",
            "kind": rng.choice(KIND_WORDS[kind]), "refr": gas, "charge": system.charge, "lost": mass(lost, metric),
            "over": over, "place": part, "part": part, "mode": words["modes"][mode].lower(),
            "contrib": words["contributing"][contributing[0]].lower(), "symptom": words["symptoms"][seen[0]].lower(),
            "symptom_2": words["symptoms"][second_sign].lower(), "min": str(sum(s.minutes for s in steps)),
            "tech_a": self._said(steps[-1].technique), "tech_b": self._said(steps[0].technique), "town": branch.key,
            "wrong": wrong, "wrong_or_mode": wrong or "something else", "month": MONTHS[day.month - 1],
            "tech": self._said(steps[-1].technique), **fix_words, **hold_words,
        }  # fmt: skip
        speech.facts = facts
        extra = [speech.say(FIRST_WRONG)] if first else []
        tail = [speech.say(FIXES.get(action, FIXES["default"]))]
        if hold and rng.random() < 0.6:
            tail.append(speech.say(TESTS))
        if looks and rng.random() < 0.4:
            date, result = looks[0]
            speech.facts = {
                **facts, "lookday": f"{date.day} {MONTHS[date.month - 1]}",
                "lookresult": {"holding": "holding", "leaking-again": "leaking again", "other-leak": "tight there and short elsewhere"}[result],
            }  # fmt: skip
            tail.append(speech.say(LOOKS))
            speech.facts = facts
        story = self._story(mode, steps, proof, extra, tail)
        title = self._title()
        for step in steps:
            if rng.random() < 0.25:
                step.note = self._note()
        out = [
            f"# yaml-language-server: $schema={SCHEMAS}/case.schema.json",
            f"id: {number}",
            f"title: {quoted(title)}",
        ]
        out += [f"reported: {day}", f"closed: {closed}", f"branch: {branch.key}", f"crew: {crew}"]
        if registered:
            out.append(f"system: {system.id}")
        else:
            out.append(
                f"equipment: {{setting: {system.site.setting}, kind: {kind}, refrigerant: {gas}, "
                f"charge: {system.charge}, installed: {system.installed:%Y-%m}}}"
            )
        out.append(f"symptoms: [{', '.join(seen)}]")
        if absent:
            out.append(f"not_seen: [{', '.join(absent)}]")
        ambient = f"{celsius} degC" if metric else f"{round(celsius * 1.8 + 32)} degF"
        listed = f", conditions: [{', '.join(conditions)}]" if conditions else ""
        out.append(f"environment: {{ambient: {ambient}{listed}}}")
        if rng.random() < 0.95:
            added = f", topped_up: {mass(topped, metric)}" if topped else ""
            out.append(f"charge: {{lost: {mass(lost, metric)}, over: {over}{added}}}")
        readings = self._readings(steps, component)
        if readings:
            out.append("readings:")
            out += [f"  - {line}" for line in readings]
        out += self._instruments(steps, gas)
        out.append("search:")
        out += [f"  - {step_line(step)}" for step in steps]
        if rng.random() < 0.09:
            used = steps[-1].technique
            spared = rng.choice(
                [t for t in ("section-isolation", "standing-pressure", "tracer-gas") if t != used]
            )
            out.append(f"avoided: {{technique: {spared}, because: {used}}}")
        if first:
            out.append(f"first_diagnosis: {{mode: {first[0]}, minutes: {first[1]}, cost: {first[2]} USD}}")
        out.append(
            f"cause: {{mode: {mode}, component: {component}, proof: {proof}, contributing: [{', '.join(contributing)}]}}"
        )
        if also:
            out.append(f"also_found: [{{mode: {also[0]}, component: {also[1]}, proof: point}}]")
        out.append("fix:")
        out += [f"  {line}" for line in fix]
        if hold:
            out.append(f"  hold_test: {hold}")
        if looks:
            date, result = looks[0]
            noted = quoted(speech.say(LOOK_NOTES[result])[:280])
            out.append(f"follow_up: [{{date: {date}, result: {result}, note: {noted}}}]")
        if back is not None:
            out.append(f"related: [{{case: {back.case}, as: repair-did-not-hold}}]")
        elif registered and system.cases and rng.random() < 0.15:
            out.append(f"related: [{{case: {system.cases[-1][2]}, as: second-leak}}]")
        if rng.random() < 0.96:
            out.append(f"advice: {quoted(self._short(ADVICES, self.trade.advice[mode], 580))}")
        out.append(f"lesson: {quoted(self._short(LESSONS, self.trade.lessons[mode], 380))}")
        out.append("story: |")
        out += [f"  {line}" if line else "" for line in story.split("\n")]
        level = rng.choice(("apprentice", "technician", "technician", "lead"))
        topic = words["modes"][mode].lower()
        out.append(f"reading: {{level: {level}, topics: [{quoted(topic)}, {quoted(facts['kind'])}]}}")
        if rng.random() < 0.006:
            why = quoted(
                speech.say(("Duplicate of another sheet of the {day}", "Belongs to a plant in {hamlet}"))
            )
            out.append(f"withdrawn: {{date: {min(closed + dt.timedelta(days=40), LAST_LOOK)}, why: {why}}}")
        elif rng.random() < 0.008:
            self.renumbered += 1
            out.append(f"was: [{branch.prefix}-{day.year}-{90000 + self.renumbered}]")
        if registered:
            system.cases.append((day, mode, number))
            if again and rng.random() < 0.7:
                due = looks[0][0] + dt.timedelta(days=rng.randint(0, 9))
                self.returns.append(
                    Return(max(due, day + dt.timedelta(days=31)), system, mode, component, number)
                )
                self.returns = deque(sorted(self.returns, key=lambda r: (r.due, r.case)))
        return number, day.year, "\n".join(out) + "\n"

    def _title(self) -> str:
        for _ in range(12):
            title = self.speech.fill(self.rng.choice(TITLES))
            if len(title) <= 110:
                break
        else:
            title = self.speech.fill("{Part_t} of a {kind} {verb}")[:110]
        return title[:1].upper() + title[1:]

    def _short(self, templates: Sequence[str], demo: Sequence[str], limit: int) -> str:
        if demo and self.rng.random() < 0.45:
            text = self.speech.quote(self.rng.choice(demo))
        else:
            text = self.speech.say(templates)
        return text if len(text) <= limit else self.speech.say(templates)[:limit]

    def _loss(self, mode: str, seen: Sequence[str], system: System, day: dt.date) -> tuple[float, str, float]:
        """kg lost, the time as written, kg added meanwhile."""
        rng = self.rng
        since = max(1, (day - system.installed).days)
        if "sudden-loss" in seen or self.trade.modes[mode]["onset"] == "sudden":
            return system.kg * rng.uniform(0.75, 1.0), f"{min(rng.randint(1, 14), since)} days", 0.0
        months = min(rng.randint(1, 26), max(1, since // 31))
        topped = system.kg * rng.uniform(0.15, 0.8) if "repeat-top-up" in seen else 0.0
        topped = kilograms(mass(topped, system.metric)) if topped else 0.0
        share = min(0.9, exp(rng.gauss(-1.3, 0.45)))
        over = f"{months} months" if months > 1 else f"{rng.randint(2, 5)} weeks"
        return system.kg * share + topped * 0.9, over, topped

    def _instruments(self, steps: Sequence[Step], gas: str) -> Iterator[str]:
        rng = self.rng
        used = dict.fromkeys(
            s.technique for s in steps if s.technique in ("heated-diode-detector", "infrared-detector")
        )
        if not used or rng.random() > 0.97:
            return
        yield "instruments:"
        for technique in used:
            verified = rng.choices(("reference-leak", "function-check", "none"), (60, 28, 12))[0]
            yield (
                f"  - {{technique: {technique}, set_for: {gas}, alarm_at: {rng.choice((3, 5, 5, 10, 10, 20))} ppm, "
                f"verified: {verified}, warmed_up: {'true' if rng.random() < 0.9 else 'false'}}}"
            )


SAID = {
    "visual": _l("the lamp and rag/a plain look/the mirror/eyes and a white rag/a look along the metal"),
    "air-survey": _l(
        "the air survey/a sweep of the air/the background survey/a round with the meter at ankle height"
    ),
    "heated-diode-detector": _l("the heated diode/the hot diode/the diode probe/the heated sniffer"),
    "infrared-detector": _l("the infrared/the infrared set/the infrared probe/the infrared detector"),
    "bubble-test": _l("leak fluid/bubbles/the brush and fluid/the bubble test/soap"),
    "ultrasonic": _l("the ultrasonic/listening/the ultrasonic cone/the headphones"),
    "bagging": _l("a bag/bagging/a bag tied round and an hour's wait/film and tape"),
    "tracer-gas": _l("the tracer/hydrogen tracer/the tracer probe/forming gas"),
    "dye": _l("the dye/dye and the ultraviolet lamp/the ultraviolet lamp"),
    "section-isolation": _l("valving off/isolating sections/the shut-in test/section by section on nitrogen"),
    "standing-pressure": _l("standing nitrogen/the standing pressure/a night on nitrogen/the pressure test"),
    "vacuum-hold": _l("the vacuum hold/a vacuum rise/the micron gauge"),
}
STEP_TEMPLATES = {
    "clean": STEP_CLEAN, "false-alarm": STEP_FALSE, "lead": STEP_LEAD, "section": STEP_SECTION,
    "pinpointed": STEP_FIND, "confirmed": STEP_CONFIRM,
}  # fmt: skip

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 .()/'é-]*")


def quoted(text: str) -> str:
    """A text as a YAML scalar that means the same in block and flow."""
    if _PLAIN.fullmatch(text) and not text.endswith(" ") and text not in ("true", "false", "null"):
        return text
    return "'" + text.replace("'", "''") + "'"


def step_line(step: Step) -> str:
    """A search step in flow style."""
    parts = [f"technique: {step.technique}", f"at: [{', '.join(step.at)}]", f"minutes: {step.minutes}"]
    parts.append(f"result: {step.result}")
    if step.running is not None:
        parts.append(f"running: {'true' if step.running else 'false'}")
    if step.pressure:
        parts.append(f"pressure: {step.pressure}")
    if step.cost:
        parts.append(f"cost: {step.cost} USD")
    if step.note:
        parts.append(f"note: {quoted(step.note)}")
    return "{" + ", ".join(parts) + "}"


# ---------------------------------------------------------------------------------------------- a library


def write_library(out: Path, cases: int, seed: int) -> None:
    """Writes a whole company folder with `cases` records to `out`; ValueError where `out` holds something already.

    Meant for 100 to 100,000 cases; a handful works too.
    """
    if out.exists() and any(out.iterdir()):
        raise ValueError(f'"{out}" is not empty; give a new folder')
    if cases < 1:
        raise ValueError(f"{cases} cases can't be made; ask for at least 1")
    rng = Random(f"synthetic {seed} {cases}")
    years = min(12, max(4, round(2 * log10(max(cases, 100)))))
    first = dt.date(LAST_REPORT.year - years, 4, 1)
    branches = _branches(rng, cases)
    sites, systems = _register(rng, branches, cases, first)
    span = (LAST_REPORT - first).days
    days: list[dt.date] = []
    while len(days) < cases:
        day = first + dt.timedelta(days=int(span * rng.random() ** 0.8))  # the company grows
        if rng.random() < (1.0 if day.month in (6, 7, 8) else 0.75):
            days.append(day)
    maker = Maker(rng, branches, systems)
    records = out / "records"
    for day in sorted(days):
        number, year, text = maker.case(day)
        folder = records / str(year)
        if not folder.is_dir():
            folder.mkdir(parents=True)
        (folder / f"{number}.yaml").write_bytes(text.encode())
    (out / "company.yaml").write_bytes(_company(branches).encode())
    (out / "systems.yaml").write_bytes("\n".join(_register_lines(rng, sites, systems)).encode())


def _company(branches: Sequence[Branch]) -> str:
    lines = [
        f"name: {branches[0].key} Cooling", "about: A made-up company with made-up cases, for measuring", "units: us",
        "currency: USD", "labour_rate: 96 USD", "branches:",
    ]  # fmt: skip
    lines += [f"  - {{key: {b.key}, prefix: {b.prefix}}}" for b in branches]
    lines.append("crews:")
    lines += [f"  - {{key: {crew}, branch: {b.key}}}" for b in branches for crew in b.crews]
    return "\n".join(lines) + "\n"


def _register_lines(rng: Random, sites: Sequence[Site], systems: Sequence[System]) -> Iterator[str]:
    yield "sites:"
    for s in sites:
        batch = f", batch: {quoted(s.batch)}" if s.batch else ""
        yield f"  - {{key: {s.key}, name: {quoted(s.name)}, branch: {s.branch}, setting: {s.setting}{batch}}}"
    yield "systems:"
    for system in systems:
        lines = ""
        if system.lines:
            route, length, liquid, suction = system.lines
            tubes = "".join(f", {k}: {v}" for k, v in (("liquid", liquid), ("suction", suction)) if v)
            lines = f", line_set: {{route: {route}, length: {length} m{tubes}}}"
        removed = ""
        if system.cases and rng.random() < 0.02:
            gone = system.cases[-1][0] + dt.timedelta(days=60)
            removed = f", removed: {gone:%Y-%m}" if gone < LAST_LOOK else ""
        yield (
            f"  - {{id: {system.id}, site: {system.site.key}, name: {quoted(system.name)}, crew: {system.crew}, "
            f"kind: {system.kind}, refrigerant: {system.refrigerant}, charge: {system.charge}, "
            f"installed: {system.installed:%Y-%m}{lines}{removed}}}"
        )
    yield ""


# ---------------------------------------------------------------------------------------------- plain pages


@dataclass(frozen=True)
class Page:
    """The text of a case without our shell: what a peer would be given."""

    id: str
    year: str
    title: str
    facts: tuple[tuple[str, str], ...]
    steps: tuple[tuple[str, str, str, str, str], ...]
    story: tuple[str, ...]
    lesson: str


_LINK = re.compile(r"\[\[([^\[\]|]+)(?:\|([^\[\]]+))?\]\]")


def _no_links(text: str) -> str:
    words = trade().words

    def shown(hit: re.Match[str]) -> str:
        key = hit[1].split(":")[-1]
        for group in ("modes", "techniques", "components", "symptoms", "refrigerants"):
            if key in words[group]:
                return str(hit[2] or words[group][key].lower())
        return str(hit[2] or key)

    return _LINK.sub(shown, text)


def pages(library: Path) -> Iterator[Page]:
    """The pages of a library in the order of their numbers. Reads any library that is right, the demo too."""
    words = trade().words
    register = _load(library / "systems.yaml")
    sites = {s["key"]: s for s in register["sites"]}
    systems = {s["id"]: {**s, "setting": sites[s["site"]]["setting"]} for s in register["systems"]}
    for file in sorted((library / "records").glob("*/*.yaml")):
        case = _load(file)
        system = systems.get(case.get("system", ""), {})
        equipment = {**system, **case.get("equipment", {})}
        site = sites.get(system.get("site", ""), {})
        cause, charge, fix = case["cause"], case.get("charge", {}), case.get("fix", {})

        def named(group: str, keys: Sequence[str]) -> str:
            return ", ".join(words[group].get(k, k) for k in keys)

        hold = fix.get("hold_test", {})
        facts = [
            ("Case", case["id"]), ("Reported", case["reported"]), ("Closed", case.get("closed", "")),
            ("Branch", case["branch"]), ("Crew", case.get("crew", "")),
            ("Site", f"{site['name']}, {system['name']}" if site else ""),
            ("Setting", named("settings", [equipment["setting"]])),
            ("Equipment", named("equipment_kinds", [equipment["kind"]])), ("Refrigerant", equipment["refrigerant"]),
            ("Full charge", equipment.get("charge", "")), ("Installed", equipment.get("installed", "")),
            ("Lost", f"{charge['lost']} over {charge['over']}" if "over" in charge else charge.get("lost", "")),
            ("Symptoms", named("symptoms", case["symptoms"])),
            ("Looked for and absent", named("symptoms", case.get("not_seen", ()))),
            ("Surroundings", named("conditions", case.get("environment", {}).get("conditions", ()))),
            ("Cause", named("modes", [cause["mode"]])), ("Place", named("components", [cause["component"]])),
            ("Proof", cause["proof"]), ("Contributing", named("contributing", cause.get("contributing", ()))),
            ("Repair", named("actions", [fix["action"]]) if fix else ""),
            ("Parts", fix.get("parts", "")), ("Labour", fix.get("labour", "")),
            ("Hold test", f"{hold['medium']}, {hold['start']} to {hold['end']} over {hold['over']}" if hold else ""),
            ("Looked at again", "; ".join(f"{f['date']} {f['result']}: {f.get('note', '')}" for f in case.get("follow_up", ()))),
            ("Readings", "; ".join(
                f"{r['value']} by {words['techniques'][r['by']].lower()} at {words['components'][r['at']].lower()}"
                for r in case.get("readings", ()))),
            ("Advice", _no_links(case.get("advice", ""))),
        ]  # fmt: skip
        yield Page(
            id=case["id"],
            year=file.parent.name,
            title=_no_links(case["title"]),
            facts=tuple((k, v) for k, v in facts if v),
            steps=tuple(
                (
                    words["techniques"][s["technique"]],
                    named("components", s["at"]),
                    s["minutes"],
                    s["result"],
                    _no_links(s.get("note", "")),
                )
                for s in case["search"]
            ),
            story=tuple(" ".join(p.split()) for p in _no_links(case["story"]).split("\n\n") if p.strip()),
            lesson=_no_links(case.get("lesson", "")),
        )


STEP_HEADS = ("Technique", "Place", "Minutes", "Result", "Note")


def write_plain_pages(library: Path, out: Path) -> int:
    """One Markdown page a case, `out/YEAR/ID.md`, and a short `out/index.md`; returns the number of cases."""
    count = 0
    for page in pages(library):
        lines = [
            f"# {page.title}",
            "",
            *(f"- {name}: {text}" for name, text in page.facts),
            "",
            "## Search",
            "",
        ]
        lines += ["| " + " | ".join(STEP_HEADS) + " |", "|---|---|---|---|---|"]
        lines += ["| " + " | ".join(cell.replace("|", "/") for cell in step) + " |" for step in page.steps]
        lines += ["", "## Story", "", "\n\n".join(page.story), "", "## Lesson", "", page.lesson, ""]
        _put(out / page.year / f"{page.id}.md", "\n".join(lines))
        count += 1
    _put(out / "index.md", f"# Leak cases\n\n{count} cases.\n")
    return count


def write_html_pages(library: Path, out: Path) -> int:
    """One HTML page a case, `out/YEAR/ID.html`, its text in `<main>`; returns the number of cases."""
    count = 0
    esc = html.escape
    for page in pages(library):
        rows = "\n".join(
            "<tr>" + "".join(f"<td>{esc(cell)}</td>" for cell in step) + "</tr>" for step in page.steps
        )
        lines = [
            "<!doctype html>", '<html lang="en">', f'<head><meta charset="utf-8"><title>{esc(page.title)}</title></head>',
            "<body>", "<main>", f"<h1>{esc(page.title)}</h1>", "<ul>",
            *(f"<li>{esc(name)}: {esc(text)}</li>" for name, text in page.facts), "</ul>", "<h2>Search</h2>",
            "<table>", "<thead><tr>" + "".join(f"<th>{h}</th>" for h in STEP_HEADS) + "</tr></thead>",
            f"<tbody>\n{rows}\n</tbody>", "</table>", "<h2>Story</h2>", *(f"<p>{esc(p)}</p>" for p in page.story),
            "<h2>Lesson</h2>", f"<p>{esc(page.lesson)}</p>", "</main>", "</body>", "</html>", "",
        ]  # fmt: skip
        _put(out / page.year / f"{page.id}.html", "\n".join(lines))
        count += 1
    return count


def _put(file: Path, text: str) -> None:
    if not file.parent.is_dir():
        file.parent.mkdir(parents=True)
    file.write_bytes(text.encode())


_WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")


def distinct_words(library: Path) -> tuple[int, int]:
    """Distinct lower-cased words and all words of the prose (title, story, lesson, advice, notes)."""
    seen: set[str] = set()
    total = 0
    for file in sorted((library / "records").glob("*/*.yaml")):
        case = _load(file)
        texts = [case.get(k, "") for k in ("title", "story", "lesson", "advice")]
        texts += [
            item.get("note", "") for k in ("readings", "search", "follow_up") for item in case.get(k, ())
        ]
        found = _WORD.findall(" ".join(texts).lower())
        seen.update(found)
        total += len(found)
    return len(seen), total


def main() -> None:
    """The command."""
    ask = argparse.ArgumentParser(description="Write a made-up library for measuring.")
    ask.add_argument("out", type=Path, help="new folder of the library")
    ask.add_argument("--cases", type=int, default=1000)
    ask.add_argument("--seed", type=int, default=7)
    told = ask.parse_args()
    write_library(told.out, told.cases, told.seed)


if __name__ == "__main__":
    main()
