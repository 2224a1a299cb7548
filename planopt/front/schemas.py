"""The forms of files for other programs: schema."""

from __future__ import annotations

from typing import Any, Literal

from planopt.report.files.folder import plan_schema, recipe_schema, scenario_schema

_SCHEMAS = {"plan": plan_schema, "scenario": scenario_schema, "recipe": recipe_schema}


def schema(kind: Literal["plan", "scenario", "recipe"] = "plan") -> dict[str, Any]:
    """Return the JSON Schema of plan.json, of scenario files or of recipe files."""
    return _SCHEMAS[kind]()
