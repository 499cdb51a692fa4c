"""The group of commands and the words of `siltmark --help`."""

from __future__ import annotations

import gc
import os
from typing import Any

import click

from screen.cli.common import fail, fault
from screen.cli.custody import custody
from screen.cli.demo import demo
from screen.cli.explain import explain
from screen.cli.guidelines import guidelines
from screen.cli.labels import labels
from screen.cli.page import page
from screen.cli.read import read
from screen.cli.screen import screen
from screen.cli.template import template

__all__ = ["main"]

#: How often the collector looks for cycles. What a run makes mostly lives until its end: looking at it as often as
#: Python does by default takes a twelfth of the time of a laboratory's batch.
_SELDOM = (50_000, 20, 50)


def _version(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        click.echo(f"siltmark {version('siltmark')}")
        context.exit()


class _InOrder(click.Group):
    """Lists the commands in the order in which a user meets them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a fault of the tool becomes a message that asks to be reported, never a traceback."""
        gc.set_threshold(*_SELDOM)
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            if os.environ.get("SILTMARK_TRACEBACK"):
                raise
            fail(fault(error), 1)


@click.group(cls=_InOrder, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_version, help="Show the version.")
def main() -> None:
    """Say what a batch of sediment lab results means, every figure traceable to its cell.

    \b
    Start here:
      siltmark demo --out demo_report            the whole job on invented data
      siltmark read lab.xlsx                     what the sheet says, before anything is compared
      siltmark screen lab.xlsx --field field.xlsx --out report

    Guideline levels are levels of concern for animals in the bed. They are not clean-up levels; the regulator
    decides.
    """


for command in (screen, read, explain, guidelines, labels, custody, template, demo, page):
    main.add_command(command)
