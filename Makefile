# Everything runs in .venv/ of this checkout, which the first target that needs it makes.
#   make demo    the main job on a real example
#   make test    all tests, after installing the Debian packages they use where that is allowed
#   make check   style, types on each system, planted faults still find their line, licences, known weaknesses
#   make speed   benchmarks      make soak   the long runs
#   make docs    pages made from the code      make golden   the examples' sketches in tests/golden
#   make site    the pages as a site to read in a browser, in out/site
#   make constraints   writes down the versions in .venv      make lowest   tests with the oldest ones allowed

PYTHON ?= python3
VENV := .venv
READY := $(VENV)/ready
RUN := $(VENV)/bin/
DEMO := out/demo
JOBS ?= auto
# Whoever keeps Python from writing down what it compiled would have every process that a test starts compile it again.
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: help demo test check speed soak docs site golden packages constraints lowest clean

help:
	@sed -n 's/^#  //p' Makefile

$(READY): pyproject.toml requirements/constraints.txt
	@sh tools/make_venv.sh "$(PYTHON)" "$(VENV)"
	@touch $@

packages:
	@sh tools/debian_packages.sh

demo: $(READY)
	@sh tools/demo.sh "$(RUN)" "$(DEMO)"

test: $(READY) packages
	$(RUN)pytest -n $(JOBS) --dist worksteal

check: $(READY)
	$(RUN)ruff check .
	$(RUN)ruff format --check .
	printf '%s\n' linux win32 darwin | xargs -P 2 -I@ $(RUN)mypy --platform @ --cache-dir .mypy_cache/@
	$(RUN)pytest -q -n 0 --no-header tests/tools/test_mutations.py::test_each_fault_can_still_be_planted
	$(RUN)python -m tools.dependencies
	@sh tools/audit.sh "$(RUN)" out/audit

speed: $(READY) packages
	$(RUN)python -m benchmarks

soak: $(READY) packages
	WIRECUE_SOAK=1 $(RUN)pytest -n $(JOBS) --dist worksteal
	$(RUN)python -m tools.mutations
	$(RUN)python -m tools.windows_trial

docs: $(READY)
	PYTHONPATH=. $(RUN)python tools/write_docs.py

# Made whole each time: the order of the pages is on each of them.
site: $(READY)
	@rm -rf out/site
	$(RUN)python -m sphinx -q -E -W --keep-going -c tools/site -d out/site-kept . out/site
	@echo "Open first:  out/site/index.html"

# Read `git diff tests/golden` afterwards: it is what a change did to the sketches.
golden: $(READY)
	PYTHONPATH=. $(RUN)python tools/write_golden.py

# With newer versions: `.venv/bin/pip install --upgrade ...`, `make test`, then this.
constraints: $(READY)
	PYTHONPATH=. $(RUN)python tools/write_constraints.py

lowest: $(READY)
	@sh tools/lowest.sh "$(RUN)" out/lowest "$(JOBS)"

clean:
	rm -rf $(VENV) out
