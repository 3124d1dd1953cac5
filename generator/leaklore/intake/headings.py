"""What job sheets call our fields, in English and Spanish (common practice, no source)."""

from __future__ import annotations

import re
import unicodedata

SAID: dict[str, tuple[str, ...]] = {
    "title": ("headline", "job title", "short description", "título", "asunto"),
    "reported": (
        *("date in", "date", "job date", "call date", "date reported", "date of call", "logged"),
        *(
            "fecha",
            "fecha de aviso",
            "fecha de entrada",
            "fecha de reporte",
            "fecha de servicio",
            "fecha inicio",
        ),
    ),
    "closed": (
        *("date out", "date done", "completed", "date completed", "finished"),
        *("fecha de cierre", "fecha de salida", "fecha fin", "terminado", "fecha de reparación"),
    ),
    "branch": ("depot", "office", "sucursal", "delegación", "sede", "oficina"),
    "crew": ("team", "van", "engineer team", "equipo de trabajo", "cuadrilla", "brigada", "furgoneta"),
    "system": (
        *("unit no", "unit number", "asset", "asset no", "plant no", "equipment no"),
        *("nº de equipo", "número de equipo", "nº de unidad", "activo", "código de equipo"),
    ),
    "equipment.setting": ("kind of place", "premises", "site type", "tipo de local", "tipo de sitio"),
    "equipment.kind": (
        *("equipment", "equipment type", "unit type", "plant type"),
        *("equipo", "tipo de equipo", "tipo de unidad", "máquina", "tipo de máquina"),
    ),
    "equipment.refrigerant": (
        *("gas", "gas type", "refrigerant type", "ref"),
        *("refrigerante", "tipo de gas", "tipo de refrigerante"),
    ),
    "equipment.charge": (
        *("system charge", "nameplate charge", "total charge"),
        *("carga total", "carga nominal", "carga de placa", "carga del sistema"),
    ),
    "equipment.installed": (
        *("install date", "year installed", "commissioned"),
        *("fecha de instalación", "año de instalación", "instalado", "puesta en marcha"),
    ),
    "symptoms": (
        *("complaint", "fault", "fault reported", "symptom"),
        *("síntoma", "síntomas", "avería", "falla", "falla reportada", "queja", "problema"),
    ),
    "charge.lost": (
        *("gas added", "refrigerant added", "gas lost", "loss", "top up", "amount added"),
        *("gas añadido", "gas agregado", "gas perdido", "carga añadida", "carga agregada", "carga perdida"),
        *("refrigerante añadido", "refrigerante agregado", "refrigerante perdido", "cantidad añadida"),
    ),
    "charge.over": (
        *("since", "months since last", "time since last charge"),
        *("desde la última carga", "tiempo desde la última carga", "meses desde la última carga"),
    ),
    "environment.ambient": (
        *("ambient", "outside temperature", "air temp"),
        *("temperatura exterior", "temperatura ambiente", "temp ambiente", "ambiente"),
    ),
    "search[0].technique": (
        *("method", "test method", "found by", "found with", "leak test", "detector"),
        *("método", "método de detección", "técnica", "detectado con", "prueba de fugas"),
    ),
    "search[0].minutes": (
        *("time searching", "mins", "search time"),
        *("minutos", "tiempo de búsqueda", "minutos de búsqueda"),
    ),
    "search[0].result": ("outcome", "test result", "resultado", "resultado de la prueba"),
    "search[0].at": ("places checked", "looked at", "lugares revisados", "zona revisada", "puntos revisados"),
    "cause.mode": (
        *("cause", "reason", "failure", "leak cause", "why"),
        *("causa", "causa de la fuga", "motivo", "modo de falla", "tipo de falla", "modo de fallo"),
    ),
    "cause.component": (
        *("leak found at", "leak location", "location of leak", "where found", "part", "leak point"),
        *(
            "ubicación de la fuga",
            "lugar de la fuga",
            "punto de fuga",
            "componente",
            "pieza",
            "fuga encontrada en",
        ),
    ),
    "fix.action": (
        *("repair", "work done", "action taken", "remedy"),
        *("reparación", "trabajo realizado", "acción", "acción tomada", "solución"),
    ),
    "fix.parts": (
        "parts cost",
        "materials",
        "materiales",
        "costo de materiales",
        "coste de materiales",
        "repuestos",
    ),
    "fix.labour": ("labor", "hours", "labour hours", "horas", "horas de trabajo", "mano de obra"),
    "story": (
        *("notes", "remarks", "comments", "description", "report", "details", "engineer notes"),
        *("notas", "observaciones", "comentarios", "descripción", "detalles", "informe", "reporte"),
    ),
    "lesson": ("lesson learned", "lessons", "lección", "lección aprendida"),
    "advice": (
        "advice to customer",
        "recommendation",
        "recomendación",
        "recomendaciones",
        "consejo al cliente",
    ),
}
"""By the path of the field; titles and paths of the schema come on top."""
KEYS = (
    *(
        "job no",
        "job number",
        "job",
        "job id",
        "ticket",
        "ticket no",
        "sheet no",
        "order no",
        "call no",
        "ref no",
    ),
    *(
        "no de parte",
        "parte",
        "no de orden",
        "orden",
        "orden de trabajo",
        "no de trabajo",
        "no de aviso",
        "aviso",
    ),
    *("no de servicio", "folio", "albaran", "numero de orden", "numero de parte", "numero de servicio", "ot"),
)
"""Of the column that names a job for good; as `plain_words` has them."""
UNITS = {
    "anos": "years",
    "ano": "years",
    "meses": "months",
    "semanas": "weeks",
    "dias": "days",
    "horas": "h",
    "minutos": "min",
    "libras": "lb",
    "onzas": "oz",
    "kilos": "kg",
    "gramos": "g",
}
"""Units in the names of Spanish columns; as `plain_words` has them."""

BLANKS = (
    "-",
    "--",
    "–",
    "—",
    "?",
    "n/a",
    "n.a.",
    "na",
    "nil",
    "none",
    "tbc",
    "unknown",
    "n/d",
    "s/d",
    "ninguno",
)
"""What people write into a cell that has nothing to say."""


def plain_words(text: str) -> str:
    """A heading in small letters from a to z, without accents and signs; `Nº` and `N°` are `no`."""
    told = unicodedata.normalize("NFKD", text).casefold().replace("n°", "no")
    return " ".join(re.findall(r"[a-z]+", "".join(s for s in told if not unicodedata.combining(s))))
