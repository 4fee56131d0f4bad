"""wirecue completion."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class


@click.command(name="completion", short_help="Print the completion script for your shell.")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def command(ctx: click.Context, shell: str) -> None:
    """Print the completion script for your shell.

    \b
    bash:  eval "$(wirecue completion bash)"     in ~/.bashrc
    zsh:   eval "$(wirecue completion zsh)"      in ~/.zshrc
    fish:  wirecue completion fish | source      in ~/.config/fish/config.fish
    """
    kind = get_completion_class(shell)
    if kind is None:
        raise click.ClickException(f"no completion for {shell}")
    click.echo(kind(ctx.find_root().command, {}, "wirecue", "_WIRECUE_COMPLETE").source())
