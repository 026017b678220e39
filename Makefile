# Everything a newcomer needs: `make run`, `make demo`, `make test`. Wants Python 3.11 or newer and make, nothing else.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
FILE ?= src/tussock/data/tarn/programme.yaml
OUT ?= out
# two workers of the tests fill two cores; threads of the linear algebra would only wait for one another
export OPENBLAS_NUM_THREADS ?= 1

.PHONY: demo run report test explore lint bench clean

$(VENV)/installed: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Tussock wants Python 3.11 or newer; say which: make PYTHON=python3.12 ..."; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --editable .
	@touch $@

$(VENV)/tested: $(VENV)/installed
	$(BIN)/python -m pip install --quiet --editable ".[test]"
	@touch $@

demo: $(VENV)/installed  ## two invented rescue vehicles through every study: answers on screen, files in out/tarn, out/dunnock
	$(BIN)/tussock demo --out $(OUT)

run: $(VENV)/installed  ## the workbench in the browser, both demo programmes in it
	$(BIN)/tussock serve

report: $(VENV)/installed  ## every stage and the documents for a programme of your own: make report FILE=my.yaml
	$(BIN)/tussock release $(FILE) --out $(OUT)

lint: $(VENV)/tested
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

test: lint  ## style, types, layers, then every test on two cores; property tests draw the same examples every time
	$(BIN)/python -m tussock.studies.compile
	$(BIN)/python -m pytest -n 2 --dist worksteal --hypothesis-profile=ci

explore: $(VENV)/tested  ## the property tests on examples of this run's own
	$(BIN)/python -m pytest -n 2 --hypothesis-profile=default

bench: $(VENV)/tested  ## timings, as ratios within one run
	$(BIN)/python bench/linkage.py
	$(BIN)/python bench/motion.py
	$(BIN)/python bench/stack.py
	$(BIN)/python bench/hydraulics.py
	$(BIN)/python bench/valving.py
	$(BIN)/python bench/sweep.py
	$(BIN)/python bench/serve.py

clean:
	rm -rf $(VENV) out build dist
	find src tests -name __pycache__ -type d -prune -exec rm -rf {} +
