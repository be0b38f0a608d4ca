"""Doctests of modules that need the seeing are collected where it exists."""

from importlib.util import find_spec

collect_ignore = (
    [] if find_spec("vision.measure") else ["batch.py", "measuring.py", "screens/photo_answer.py"]
)
# Run by alembic alone, within a migration.
collect_ignore += ["collection/migrations/env.py"]
