# Two commands: `make site` builds site/ from cases/, `make test` runs everything.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
export NO_MKDOCS_2_WARNING := 1

.PHONY: site test words evaluate bench bench-search bench-build serve check soak engines lint lock licences audit clean browser

site: $(VENV)/.site-ready
	$(BIN)/leaklore build

serve: $(VENV)/.site-ready
	$(BIN)/leaklore serve

check: $(VENV)/.site-ready
	$(BIN)/leaklore check

test: $(VENV)/.test-ready browser
	$(BIN)/ruff check generator tests
	$(BIN)/ruff format --check generator tests
	$(BIN)/mypy
	$(BIN)/pytest -n 2 --dist loadfile

# How good the search is, against simple ways and independent libraries.
evaluate: $(VENV)/.test-ready
	$(BIN)/python tests/evaluation/evaluate.py

# All timings: how fast the search and the build are, beside others, with 10,000 made-up cases. Takes over an hour.
bench: bench-search bench-build

# The search on a slow phone. Takes some 15 minutes.
bench-search: $(VENV)/.bench-ready browser
	$(BIN)/python tests/benchmarks/bench_search.py
	$(BIN)/python tests/benchmarks/bench_lighthouse.py

# The build, on a memory disk. Takes about an hour.
bench-build: $(VENV)/.bench-ready
	$(BIN)/python tests/benchmarks/bench_build.py --json .cache/bench-build.json

# A monkey at the demo site: two thousand walks at random. Takes some half an hour.
soak: $(VENV)/.test-ready browser site
	$(BIN)/python tests/soak/monkey.py

# The demo site in WebKit, near to what iPhones have, and in Firefox, as Debian has them. Takes some five minutes.
engines: $(VENV)/.test-ready site
	@command -v firefox-esr >/dev/null && command -v WebKitWebDriver >/dev/null && command -v Xvfb >/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends firefox-esr webkit2gtk-driver xvfb; }
	$(BIN)/python tests/engines/walk.py

lint: $(VENV)/.test-ready
	$(BIN)/ruff check --fix generator tests
	$(BIN)/ruff format generator tests
	$(BIN)/mypy

# Debian's Chromium for the browser tests.
browser:
	@command -v chromium >/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium; }
	@command -v chromium-headless-shell >/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium-headless-shell; } || echo "no chromium-headless-shell: the browser tests take chromium, and twice the time"

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Leaklore needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null || { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq python3-venv; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.site-ready: requirements.lock pyproject.toml | $(VENV)/bin/python
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/.test-ready: requirements-test.lock $(VENV)/.site-ready
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	@touch $@

$(VENV)/.bench-ready: requirements-bench.lock $(VENV)/.test-ready
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-bench.lock
	@touch $@

COMPILE := --quiet --generate-hashes --strip-extras --allow-unsafe --no-emit-index-url --no-emit-trusted-host --no-emit-find-links --no-emit-options

# Brings the catalogues of all languages up to date with the messages of templates, code and schemas.
WORDS := --no-wrap --add-location=file
words: $(VENV)/.site-ready
	@mkdir -p .cache
	$(BIN)/pybabel -q extract -F babel.cfg $(WORDS) --sort-by-file --project leaklore -o .cache/leaklore.pot .
	$(BIN)/pybabel -q update -i .cache/leaklore.pot -d generator/leaklore/locale -D leaklore --no-wrap -N --ignore-obsolete --ignore-pot-creation-date

# Writes the lock files anew from pyproject.toml.
lock:
	$(PYTHON) -m venv .cache/lock && .cache/lock/bin/pip install --quiet pip-tools
	.cache/lock/bin/pip-compile $(COMPILE) --extra build -o requirements.lock pyproject.toml
	.cache/lock/bin/pip-compile $(COMPILE) --extra build --extra test -o requirements-test.lock pyproject.toml
	.cache/lock/bin/pip-compile $(COMPILE) --extra build --extra test --extra bench -o requirements-bench.lock pyproject.toml

# Writes docs/licences.md anew: after `make lock`, with what it pins installed.
licences: $(VENV)/.site-ready
	$(BIN)/python tests/licences.py

# Known weaknesses of what the lock files pin; --strict fails where the index can't be asked, too.
audit:
	$(PYTHON) -m venv .cache/audit && .cache/audit/bin/pip install --quiet pip-audit
	for lock in requirements*.lock; do .cache/audit/bin/pip-audit --strict --require-hashes --disable-pip -r $$lock || exit 1; done

clean:
	rm -rf $(VENV) site site.* .cache
