# Everything runs in .venv, which is made from requirements.txt when missing or older than it.
SHELL := bash
PYTHON ?= $(shell command -v python3.11 || command -v python3)
RUN := .venv/bin
# Python keeps what it compiled, whatever the environment says: every process that tests start would compile it anew.
export PYTHONDONTWRITEBYTECODE :=
BOOK_SOURCES := $(shell find book pitside exercises \( -name __pycache__ -o -path book/pictures \) -prune -o -type f -print) _config.yml

.PHONY: demo test test-all check book print wheel pictures solutions agreement soundness bench clean

demo: .venv/ready _build/book.ready   ## a whole invented school: book, papers, scripts, marks, feedback
	$(RUN)/pitside demo _build/demo --book _build/html/index.html

test: .venv/ready   ## every promise, in some minutes
	$(RUN)/python -m pytest -n auto --dist loadfile --no-loadscope-reorder -m "not slow" --durations 10

test-all: .venv/ready   ## what takes longer: each page in the browser, other ways to run scripts, more draws, solutions
	$(RUN)/python -m pytest -n auto --dist loadfile -m slow --durations 10
	PITSIDE_DRAWS=24 $(RUN)/python -m pytest -n auto --dist worksteal tests/exercises/test_soundness.py \
		tests/exercises/test_cases.py tests/exercises/test_practice_data.py tests/exercises/test_worked_by_hand.py \
		tests/exercises/test_machines_by_hand.py
	$(RUN)/python -m pytest --nbval solutions -p no:cacheprovider

check: .venv/ready   ## style and types
	$(RUN)/ruff check .
	$(RUN)/ruff format --check .
	$(RUN)/mypy

solutions: .venv/ready   ## the worked solutions again, after an exercise has changed
	$(RUN)/python -m grader.demo.solutions solutions

agreement: .venv/ready   ## the page of published checks again, after a check has changed
	$(RUN)/python -m tests.published.agreement

soundness: .venv/ready   ## what every exercise promises, over 500 draws of each in each unit system
	PITSIDE_DRAWS=500 $(RUN)/python -m pytest -q -n auto --dist worksteal tests/exercises/test_soundness.py

bench: .venv/ready   ## how fast the calculations and the marking are, each against the plain way
	$(RUN)/python -m tests.bench.bench_pitside
	$(RUN)/python -m tests.bench.bench_issue
	$(RUN)/python -m tests.bench.bench_marking
	$(RUN)/python -m tests.bench.bench_commands
	$(RUN)/python -m tests.bench.bench_classroom

book: _build/book.ready   ## the book, ready for a USB stick, in _build/html

print: .venv/ready _build/book.ready   ## the book, the formula card and the lessons for the projector as PDF, in _build/print
	$(RUN)/python book/printing.py _build/html _build/print

wheel: .venv/ready _build/book.ready   ## one file that holds the programs and the book, to install anywhere, in _build
	$(RUN)/python -m pip wheel --quiet --disable-pip-version-check --no-deps --no-build-isolation --wheel-dir _build .
	@ls _build/pitside-*.whl

pictures: .venv/ready _build/book.ready   ## the pictures of the README again, from the demonstration
	$(RUN)/pitside demo _build/demo --book _build/html/index.html >_build/demo.txt
	$(RUN)/python book/picturing.py _build/html _build/demo

_build/book.ready: .venv/ready $(BOOK_SOURCES)
	$(RUN)/jupyter-book build book --config _config.yml --path-output . -W -n --keep-going
	touch $@

.venv/ready: requirements.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Pitside needs Python 3.11 or newer; name it with: make PYTHON=/path/to/python3.11"; exit 1; }
	$(PYTHON) -m venv .venv
	$(RUN)/python -m pip install --quiet --disable-pip-version-check -r requirements.txt
	$(RUN)/python -m pip install --quiet --disable-pip-version-check --no-deps --editable .
	touch $@

clean:
	rm -rf _build .venv
