"""Vega for the explorer, as one ES module: runtime, expression interpreter and our charts, compiled at build time.

Vega-Lite is done with once the charts are compiled, so it is not shipped; the interpreter lets Vega run under a policy
that forbids `eval`. All comes from inside the vl-convert wheel: nothing is fetched.
"""

from __future__ import annotations

import json
from functools import cache

from leaklore.errors import LeakloreError
from leaklore.pages.patterns import drawing
from leaklore.pages.patterns.explore_charts import CHARTS
from leaklore.pages.patterns.kept import once
from leaklore.pages.spec import DataFile

PATH = "js/vega-bundle.js"
LICENCES = "js/vega-bundle.LICENSE.txt"
INTERPRETER = "2.0.0"
"""Of vega-interpreter: the one that comes with vl-convert 1.9."""
_FROM = "https://cdn.jsdelivr.net/npm/{}@{}/+esm.js"
"""The name by which vl-convert knows its own copy of a package; it looks nowhere else."""


def packages() -> tuple[tuple[str, str], ...]:
    """(name, version) of what the bundle is made of."""
    import vl_convert

    return ("Vega", vl_convert.get_vega_version()), ("vega-interpreter", INTERPRETER)


@cache
def bundle() -> str:
    """The module: exports `View`, `parse`, `expressionInterpreter` and `charts`, Vega specifications by key.

    About a second, once a process. Raises LeakloreError where the installed vl-convert lacks a part.
    """
    vl_convert = drawing.engine()
    charts = {key: _lean(vl_convert.vegalite_to_vega(chart)) for key, chart in CHARTS.items()}
    vega = _FROM.format("vega", vl_convert.get_vega_version())
    snippet = (
        f'import {{ View, parse }} from "{vega}";\n'
        f'import {{ expressionInterpreter }} from "{_FROM.format("vega-interpreter", INTERPRETER)}";\n'
        "export { View, parse, expressionInterpreter };\n"
        f"export const charts = {json.dumps(charts, separators=(',', ':'), sort_keys=True)};\n"
    )
    try:
        made = vl_convert.javascript_bundle(snippet)
    except ValueError as fault:
        raise LeakloreError(f"the explorer's chart library could not be made: {fault}") from None
    return f"/* Vega and others, see {LICENCES.rpartition('/')[2]} */\n{made}\n"


def _lean(chart: dict[str, object]) -> dict[str, object]:
    """Without the address of its schema: nothing in the site names another host that it could ask."""
    return {key: value for key, value in chart.items() if key != "$schema"}


def files() -> list[DataFile]:
    """The bundle, and the licences of what is in it; kept beside the charts."""
    names = ", ".join(f"{name} {version}" for name, version in packages())
    return [
        DataFile(PATH, once("the explorer", "js", lambda: bundle().encode())),
        DataFile(LICENCES, _TEXT.format(names=names).encode()),
    ]


_TEXT = """\
vega-bundle.js holds {names} and the packages they are made of (vega-*, d3-*, delaunator, internmap,
robust-predicates, topojson-client). Their licences follow. robust-predicates is in the public domain (Unlicense).

----- vega-* (BSD 3-Clause) -----

Copyright (c) 2015-2023, University of Washington Interactive Data Lab
All rights reserved.

Redistribution and use in source and binary forms, with or without
modification, are permitted provided that the following conditions are met:

1. Redistributions of source code must retain the above copyright notice, this
   list of conditions and the following disclaimer.

2. Redistributions in binary form must reproduce the above copyright notice,
   this list of conditions and the following disclaimer in the documentation
   and/or other materials provided with the distribution.

3. Neither the name of the copyright holder nor the names of its contributors
   may be used to endorse or promote products derived from this software
   without specific prior written permission.

THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS "AS IS"
AND ANY EXPRESS OR IMPLIED WARRANTIES, INCLUDING, BUT NOT LIMITED TO, THE
IMPLIED WARRANTIES OF MERCHANTABILITY AND FITNESS FOR A PARTICULAR PURPOSE ARE
DISCLAIMED. IN NO EVENT SHALL THE COPYRIGHT OWNER OR CONTRIBUTORS BE LIABLE
FOR ANY DIRECT, INDIRECT, INCIDENTAL, SPECIAL, EXEMPLARY, OR CONSEQUENTIAL
DAMAGES (INCLUDING, BUT NOT LIMITED TO, PROCUREMENT OF SUBSTITUTE GOODS OR
SERVICES; LOSS OF USE, DATA, OR PROFITS; OR BUSINESS INTERRUPTION) HOWEVER
CAUSED AND ON ANY THEORY OF LIABILITY, WHETHER IN CONTRACT, STRICT LIABILITY,
OR TORT (INCLUDING NEGLIGENCE OR OTHERWISE) ARISING IN ANY WAY OUT OF THE USE
OF THIS SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.

----- d3-*, internmap, topojson-client, delaunator (ISC) -----

Copyright 2010-2023 Mike Bostock
Copyright 2017, 2021 Mapbox (delaunator)

Permission to use, copy, modify, and/or distribute this software for any purpose
with or without fee is hereby granted, provided that the above copyright notice
and this permission notice appear in all copies.

THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES WITH
REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF MERCHANTABILITY AND
FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY SPECIAL, DIRECT,
INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES WHATSOEVER RESULTING FROM LOSS
OF USE, DATA OR PROFITS, WHETHER IN AN ACTION OF CONTRACT, NEGLIGENCE OR OTHER
TORTIOUS ACTION, ARISING OUT OF OR IN CONNECTION WITH THE USE OR PERFORMANCE OF
THIS SOFTWARE.

----- part of d3-geo-projection (MIT) -----

Copyright (c) 2015 Ricky Reusser

Permission is hereby granted, free of charge, to any person obtaining a copy
of this software and associated documentation files (the "Software"), to deal
in the Software without restriction, including without limitation the rights
to use, copy, modify, merge, publish, distribute, sublicense, and/or sell
copies of the Software, and to permit persons to whom the Software is
furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in
all copies or substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR
IMPLIED, INCLUDING BUT NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY,
FITNESS FOR A PARTICULAR PURPOSE AND NONINFRINGEMENT. IN NO EVENT SHALL THE
AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM, DAMAGES OR OTHER
LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM,
OUT OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN
THE SOFTWARE.
"""
