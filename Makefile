# Two commands are enough: `make demo` and `make test`. `make help` lists all of them.

PORT ?= 8000
export PORT
# Other seeds try other runs: make battery SEED=1
SEED ?= 0

PYTHON := .venv/bin/python
MANAGE := $(PYTHON) manage.py
# The checks ask no database anything, so they must not leave an empty one behind.
CHECK := DATABASE_URL=sqlite://:memory: $(MANAGE)
# A test process a core, up to four: each has a browser and a database of its own.
EVERY_CORE := -n auto --maxprocesses 4 --dist worksteal
# A test of the battery may take ten minutes by itself; elsewhere one that takes five hangs.
LONG := -o faulthandler_timeout=3600
# With a PostgreSQL of its own, where this computer has one; it says so where not.
ON_POSTGRESQL := $(PYTHON) .ci/postgresql.py $(PYTHON) -m pytest
# Of what guards children's data, the bar is every branch: who gets in (access), which phone
# (pairing), what waits on a phone (sync), what is kept and erased (backup).
EVERY_BRANCH := \
	studio/access.py studio/addresses.py studio/crossings.py studio/http.py studio/limits.py \
	studio/middleware.py studio/prepared.py studio/public.py studio/secrets.py studio/sessions.py \
	studio/phone.py studio/qr.py studio/services/pairing.py studio/services/typed_code.py \
	studio/views/joining.py studio/views/pairing.py studio/views/parents.py \
	studio/views/this_phone.py \
	progress/engine/check_in.py progress/exports/check_ins.py \
	progress/forms/answers.py progress/forms/check_ins.py \
	progress/forms/fix_day.py progress/queries/days.py progress/queries/fix_day.py \
	progress/queries/news.py progress/services/check_ins.py progress/views/check_in.py \
	progress/views/echo.py progress/views/fix_day.py progress/views/interruptions.py \
	progress/views/offline.py progress/views/practice.py progress/views/today_ahead.py \
	progress/views/told.py studio/services/wellbeing.py \
	config/databases.py progress/services/drop_old.py studio/commands.py studio/expected.py \
	studio/management/commands/backup.py studio/management/commands/check_database.py \
	studio/management/commands/restore.py studio/management/commands/verify.py \
	studio/services/backup_file.py studio/services/backup_postgresql.py \
	studio/services/backup_sqlite.py studio/services/backups.py studio/services/ended_since.py \
	studio/services/phone_use.py studio/erased_meanwhile.py \
	studio/services/erase.py studio/services/erased_list.py studio/services/standing.py studio/views/erasing.py
SPACE := $(subst ,, )
COMMA := ,
OF_A_STUDIO := $(if $(filter postgres%,$(DATABASE_URL)),requirements-postgres.txt,requirements.txt)
NEW_KEY := $$($(PYTHON) -c 'import secrets; print(secrets.token_urlsafe(60))')

.DEFAULT_GOAL := help
.PHONY: help setup demo run backup verify restore letters nightly migrate serve work test battery bench coverage check lint browser fmt words evaluate pictures lock parts clean
.NOTPARALLEL:

help: ## list these commands
	@sed -n 's/^\([a-z]*\):.*## /\1|/p' Makefile | while IFS='|' read -r name text; do \
		printf '  make %-8s %s\n' "$$name" "$$text"; done

setup: ## make .venv with all that work on the code needs
	@python3 .ci/install.py requirements-test.txt

demo: ## serve a studio of invented people on http://127.0.0.1:PORT (8000)
	@python3 .ci/install.py requirements-recordings.txt
	@exec $(PYTHON) .ci/serve.py demo

run: ## serve your own studio, kept in var/studio.sqlite3 or in DATABASE_URL
	@python3 .ci/install.py $(OF_A_STUDIO)
	@exec $(PYTHON) .ci/serve.py run

backup: ## make a checked backup of your own studio, in var/backups
	@python3 .ci/install.py $(OF_A_STUDIO)
	@$(PYTHON) .ci/keep.py backup

verify: ## rehearse a restore: make verify FILE=var/backups/…; without FILE the newest
	@python3 .ci/install.py $(OF_A_STUDIO)
	@$(PYTHON) .ci/keep.py verify $(if $(FILE),"$(FILE)")

restore: ## put a backup back: make restore FILE=…; REPLACE=yes keeps the present studio aside
	@test -n "$(FILE)" || { echo "Name a backup: make restore FILE=var/backups/filar-….zip"; exit 2; }
	@python3 .ci/install.py $(OF_A_STUDIO)
	@$(PYTHON) .ci/keep.py restore "$(FILE)" $(if $(filter yes,$(REPLACE)),--replace)

letters: ## send the letters of your own studio that are due: let a timer do it once a minute
	@$(PYTHON) .ci/keep.py send_letters

nightly: ## drop what is kept no longer, and look the studio over: let a timer do it once a night
	@$(PYTHON) .ci/keep.py drop_old
	@$(PYTHON) .ci/keep.py delete_old_recordings
	@$(PYTHON) .ci/keep.py check_database --studios

migrate: ## make a backup and bring the tables of your own studio up to date; serve nothing
	@python3 .ci/install.py $(OF_A_STUDIO)
	@$(PYTHON) .ci/serve.py migrate

serve: ## serve your own studio as it is, on as many hosts as you like: docs/production.md
	@python3 .ci/install.py $(OF_A_STUDIO)
	@exec $(PYTHON) .ci/serve.py serve

work: setup ## serve the demo's studio to somebody working on the code: it reloads itself
	@$(MANAGE) migrate --noinput -v 0
	@FILAR_DEBUG=True exec $(MANAGE) runserver "127.0.0.1:$(PORT)"

test: setup browser lint ## run every check and every test, those in a browser too
	@$(PYTHON) -m pytest $(EVERY_CORE)
	@$(ON_POSTGRESQL) $(EVERY_CORE) --database

battery: setup browser ## the tests with a full count, at that count: long
	@$(PYTHON) -m pytest $(LONG) --battery --seed $(SEED) \
		--hypothesis-profile battery --hypothesis-seed $(SEED) -m battery
	@$(ON_POSTGRESQL) $(EVERY_CORE) -m "not browser"
	@$(ON_POSTGRESQL) $(LONG) --battery --seed $(SEED) --database -m battery

coverage: setup browser ## which branches no test reaches, on both databases: long
	@$(PYTHON) -m coverage erase
	@$(PYTHON) -m coverage run -m pytest $(EVERY_CORE) $(ONLY)
	@$(PYTHON) .ci/postgresql.py $(PYTHON) -m coverage run -m pytest $(EVERY_CORE) --database $(ONLY)
	@$(PYTHON) -m coverage combine --quiet
	@$(PYTHON) -m coverage report --show-missing --skip-covered $(if $(ONLY),,--fail-under 95)
	@$(PYTHON) -m coverage report --show-missing --include "$(subst $(SPACE),$(COMMA),$(EVERY_BRANCH))" \
		$(if $(ONLY),,--fail-under 100)

check: setup lint ## the same without the browser
	@$(PYTHON) -m pytest $(EVERY_CORE) -m "not browser"
	@$(ON_POSTGRESQL) $(EVERY_CORE) --database

lint: setup ## format, lint, types, import contracts, migrations, Django's own checks
	.venv/bin/ruff format --check .
	.venv/bin/ruff check .
	.venv/bin/djlint --lint --quiet templates
	.venv/bin/mypy . .ci/*.py
	.venv/bin/lint-imports
	$(CHECK) makemigrations --check --dry-run
	$(CHECK) check
	@echo "manage.py check --deploy, at the settings of a public site"
	@FILAR_ADDRESS=https://studio.example FILAR_SECRET_KEY="$(NEW_KEY)" \
		$(CHECK) check --deploy --fail-level DEBUG

browser: setup ## find a Chromium for the browser tests, or install one
	@$(PYTHON) .ci/chromium.py

fmt: setup ## put the code into its form
	@.venv/bin/ruff check --fix-only .
	@.venv/bin/ruff format .

words: setup ## find all words for a catalogue: make words LANGUAGE=sv (needs gettext)
	@test -n "$(LANGUAGE)" || { echo "Name a language: make words LANGUAGE=sv"; exit 1; }
	@mkdir -p locale
	@$(CHECK) makemessages --locale $(LANGUAGE) --ignore tests

evaluate: setup ## try the assessment on invented students and write docs/evaluation.md
	@$(PYTHON) -m tests.evaluation.evaluate

bench: setup ## measure how quick it is, on both databases: long. SIZE=small only tries whether it runs
	@$(PYTHON) -m tests.bench

pictures: setup browser ## make the README's pictures anew, of invented people on one fixed day
	@$(PYTHON) -m tests.pictures

UV := $(or $(shell command -v uv),.venv/bin/uv)
LOCK := $(UV) pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-emit-index-url --no-header pyproject.toml

lock: ## write the lock files anew from pyproject.toml (needs uv)
	@test -x $(UV) || { echo "make lock needs uv. Type: .venv/bin/pip install uv"; exit 1; }
	$(LOCK) -o requirements.txt
	$(LOCK) --constraint requirements.txt --extra postgres -o requirements-postgres.txt
	$(LOCK) --constraint requirements.txt --extra recordings -o requirements-recordings.txt
	$(LOCK) --constraint requirements.txt --group test -o requirements-test.txt

parts: setup ## print what a studio runs on, with versions and licences, as CycloneDX JSON
	@$(PYTHON) .ci/parts.py

clean: ## remove caches; .venv and the studios in var/ stay
	@find . -name __pycache__ -type d -not -path './.venv/*' -prune -exec rm -rf {} +
	@rm -rf .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis htmlcov .coverage .coverage.*
