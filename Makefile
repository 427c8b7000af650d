# The same few targets for people and for CI. Needs python3 (3.11 to 3.13, with venv and pip), make and git.
PYTHON ?= python3
BIN := .venv/bin
READY := .venv/.ready
# As a command does for itself: processes on both cores would wait for each other's threads.
ONE_THREAD := OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1 OMP_NUM_THREADS=1

.PHONY: review test lint fuzz bench notebooks docs lab picture demo wheel audit lock clean

review: $(READY)  ## the main job on the demo shop: answers in the terminal, page in out/review.html
	@mkdir -p out
	$(BIN)/headlife review data_demo/removals.csv --shop data_demo/shop.toml --out out/review.html

# The tests of a file stay in one process: what they share is made once.
test: $(READY)  ## every test, on both cores
	$(ONE_THREAD) $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

lint: $(READY)  ## style, types, contracts between the rooms
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache --no-logo

fuzz: $(READY)  ## changed files at every door for TIME seconds each; what is new is kept in .fuzz
	@$(BIN)/python -m studies.fuzz --time $(or $(TIME),60)

bench: $(READY)  ## every ratio of speeds beside its goal (BENCH=--short: a few minutes less)
	@$(BIN)/python -m studies.bench $(BENCH)

notebooks: $(READY)  ## execute every notebook; copies with outputs go to out/notebooks
	$(BIN)/python -m headlife.show.notebook notebooks out/notebooks

docs: notebooks  ## the HTML reference in out/docs, every warning an error
	@$(BIN)/python shared/docs/build.py out/notebooks out/docs

lab: $(READY)  ## open the notebooks
	$(BIN)/jupyter lab --notebook-dir=.

picture: $(READY)  ## the README's picture of the report's first screen (needs chromium)
	$(BIN)/python shared/docs/picture.py

demo: $(READY)  ## write the demo shop's records again
	$(BIN)/python data_demo/generate.py
	$(BIN)/python data_demo/messy.py

wheel: $(READY)  ## the wheel, with a bill of materials of all it runs with, in out/wheel
	@mkdir -p out/wheel
	$(BIN)/python -m pip wheel --quiet --disable-pip-version-check --no-deps --no-build-isolation --wheel-dir out/wheel .
	$(BIN)/cyclonedx-py environment --pyproject pyproject.toml --output-reproducible --of JSON -o out/wheel/headlife.cdx.json .venv

audit: $(READY)  ## known faults of everything pinned, where an advisory source can be reached
	$(BIN)/pip-audit --requirement requirements.lock --require-hashes --disable-pip

lock: $(READY)  ## pin every package again after a change in pyproject.toml
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --all-extras --no-header pyproject.toml -o requirements.lock

$(READY): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(None if (3, 11) <= sys.version_info[:2] <= (3, 13) else "headlife needs Python 3.11, 3.12 or 3.13; this is " + sys.version.split()[0] + ". Say which to use: make PYTHON=python3.12")'
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements.lock  # the lock file is complete
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@$(BIN)/python -m compileall -q analysis  # so that no start compiles it again
	@touch $(READY)

clean:  ## forget the environment and everything written
	rm -rf .venv out
