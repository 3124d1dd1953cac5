"""Questions on failure modes: by our cases, and by what the guide holds good for finding them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from leaklore.analysis.questions.question import CHOICES, Maker, Question


def fits_best(m: Maker) -> Question | None:
    """Which failure mode fits the findings of a case; the wrong ones are those that it is mistaken for."""
    pictures = m.material["pictures"][m.topic]
    if not pictures:
        return None
    mode = m.chance.pick(sorted({one["mode"] for one in pictures}))
    seen = m.chance.pick([one for one in pictures if one["mode"] == mode])

    def signs(name: str) -> str:
        return "; ".join(_lower(m.named("symptom", key)) for key in seen[name])

    kind = m.named("kind", seen["kind"])
    unit = m.say("unit-no-age", kind=kind)
    if seen["age"] is not None:
        unit = m.say("unit", kind=kind, age=m.write(seen["age"], "span"))
    slots = {
        "unit": unit,
        "seen": signs("seen"),
        "absent": m.say("absent", absent=signs("absent")) if seen["absent"] else "",
        "right": m.named("mode", mode),
        "second": m.named("mode", seen["second"]),
        "p": m.write(seen["p"], "share"),
        "q": m.write(seen["q"], "share"),
        "n": str(seen["n"]),
        "cases": str(seen["cases"]),
        "tells": m.say("tells", signs="; ".join(_sign(m, *told) for told in seen["tells"]))
        if seen["tells"]
        else "",
        "what": m.material["about"]["mode"][mode],
    }
    wrong = [m.named("mode", key) for key in seen["wrong"]]
    return m.asked([m.named("mode", mode)], wrong, f"mode:{mode}", slots)


def _sign(m: Maker, group: str, key: str) -> str:
    """A finding inside a sentence."""
    if group in ("kind", "age"):
        return m.say(group)
    name = _lower(m.named("symptom", key))
    return m.say("no", name=name) if group == "absent" else name


def _lower(name: str) -> str:
    """A name inside a sentence."""
    return name if name[:2].isupper() else name[:1].lower() + name[1:]


def tell_tale(m: Maker) -> Question | None:
    """Which finding speaks for a mode, against one that it is mistaken for."""
    pairs = m.material["tell_tales"][m.topic]
    if not pairs:
        return None
    pair = m.chance.pick(pairs)
    found = m.chance.pick(pair["right"])
    wrong = m.chance.shuffled(pair["wrong"])[: CHOICES - 1]
    low, high, other_low, other_high = (m.write(end, "share") for end in found["ends"])
    slots = {
        "mode": m.named("mode", pair["mode"]),
        "other": m.named("mode", pair["other"]),
        "sign": m.named("symptom", found["sign"]),
        "a": str(found["a"]),
        "n": str(pair["n"]),
        "b": str(found["b"]),
        "m": str(pair["m"]),
        "interval": m.say("interval", low=low, high=high),
        "other-interval": m.say("interval", low=other_low, high=other_high),
    }
    names = [m.named("symptom", key) for key in wrong]
    return m.asked([m.named("symptom", found["sign"])], names, f"mode:{pair['mode']}", slots)


def finds_mode(m: Maker) -> Question | None:
    """Which technique is likeliest to find a mode."""
    return _technique_for(m, "good", "poor")


def misses_mode(m: Maker) -> Question | None:
    """Which technique is likeliest to miss a mode."""
    return _technique_for(m, "poor", "good")


def _technique_for(m: Maker, right: str, wrong: str) -> Question | None:
    modes = m.material["modes"][m.topic]
    able = [key for key, by in modes.items() if by[right] and len(by[wrong]) >= CHOICES - 1]
    if not able:
        return None
    mode = m.chance.pick(able)
    chosen = m.chance.pick(modes[mode][right])
    keys = m.chance.shuffled(modes[mode][wrong])[: CHOICES - 1]
    name, others = m.named("technique", chosen), [m.named("technique", key) for key in keys]
    slots = {
        "mode": m.named("mode", mode),
        "right": name,
        "others": ", ".join(others),
        "ours": _ours(m, modes[mode]["ours"], [chosen, *keys]),
        "what": m.material["about"]["mode"][mode],
        "how": m.material["about"]["technique"][chosen],
    }
    return m.asked([name], others, f"mode:{mode}", slots)


def _ours(m: Maker, did: Mapping[str, Sequence[int]], techniques: Sequence[str]) -> str:
    """What each of these found on leaks of that mode, of those it was used on; empty where none was used."""
    told = [
        m.say("one", name=m.named("technique", key), a=str(did[key][0]), n=str(did[key][1]))
        for key in techniques
        if key in did
    ]
    return m.say("ours", list="; ".join(told)) if told else ""
