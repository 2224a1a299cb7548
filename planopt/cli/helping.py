"""Help as a coach reads it: commands in the order one meets them, each with an example."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand, TyperGroup

from planopt.guide.pages import example

# Headings of `planopt --help`, with the commands below each.
SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Begin", ("new", "guide", "check")),
    ("Clients, foods, recipes and prices", ("targets", "add", "prices", "import", "recipe")),
    ("Plan a week", ("plan", "show", "audit")),
    ("Change it", ("whatif", "adjust", "edit")),
    ("The week after", ("next", "carry")),
    ("Many households", ("weeks", "overview")),
    ("For your computer", ("defaults", "schema", "export")),
)
_NO_END = 10_000


class WholeGroup(TyperGroup):
    """A group of commands whose help is told whole, and not cut to one line."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands in their sections; what has none comes last."""
        left = list(self.list_commands(ctx))
        for title, names in SECTIONS if ctx.parent is None else ():
            self._section(title, [name for name in names if name in left], formatter)
            left = [name for name in left if name not in names]
        self._section("Commands", left, formatter)

    def _section(self, title: str, names: list[str], formatter: Any) -> None:
        if names:
            with formatter.section(title):
                formatter.write_dl(
                    [(name, self.commands[name].get_short_help_str(_NO_END)) for name in names]
                )


class ExampleCommand(TyperCommand):
    """A command whose help ends with an example, that of the guide."""

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write the example as it is typed; lines of it are not broken anew."""
        told = example(ctx.command_path)
        if told:
            lines = "".join(f"  {line}\n" for line in told.splitlines())
            formatter.write(f"\nExample:\n{lines}")
