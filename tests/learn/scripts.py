"""Modules of js/learn run by Node, without a browser: what they make of arguments, as JSON."""

from __future__ import annotations

import json
import subprocess
from typing import Any

from site_fixture import ROOT

LEARN = ROOT / "site_overrides" / "js" / "learn"


def node(script: str, argument: Any = None, zone: str = "America/New_York") -> Any:
    """The value that the body of an async function returns.

    `load(name)` gives a module of js/learn, `given` is the argument. Raises AssertionError with what Node said.
    """
    wrapped = f"""
const load = (name) => import({json.dumps(LEARN.as_uri())} + "/" + name + ".mjs");
let text = "";
for await (const piece of process.stdin) text += piece;
const given = JSON.parse(text);
const made = await (async () => {{ {script} }})();
process.stdout.write(JSON.stringify(made ?? null));
"""
    done = subprocess.run(
        ["node", "--input-type=module", "--eval", wrapped],
        input=json.dumps(argument),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={"PATH": "/usr/bin:/bin", "TZ": zone},
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)
