"""`siltmark page`: the same job on a local page."""

from __future__ import annotations

from pathlib import Path

import click

from screen.cli.common import fail, say

__all__ = ["page"]


@click.command(short_help="A local page, for people who never open a terminal.")
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Where batches and runs are kept. Default: Siltmark in your documents folder.",
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="Port to listen on. Default: a free one."
)
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
def page(folder: Path | None, port: int, no_browser: bool) -> None:
    """Screen on a page in your browser. Nothing leaves this machine; stop it with Ctrl-C or its button.

    The first line on stdout is the address. It holds for this start only, and for this machine only.

    \b
    Example:
      siltmark page --folder surveys
    """
    from screen.page.folder import FolderError, Workspace, default_folder
    from screen.page.server import PortError, serve

    try:
        workspace = Workspace((folder or default_folder()).absolute())

        def tell(address: str) -> None:
            click.echo(address)
            say(f"Files are kept in {workspace.folder}. Stop with Ctrl-C, or with the button on the page.")

        serve(workspace, port, tell, browser=not no_browser)
    except (FolderError, PortError) as error:
        fail(str(error), 2)
    say("Stopped.")
