"""The commands by name; each is loaded when it is called."""

import importlib
import os
import sys
from typing import Any

import click

from eventlab import __version__

COMMANDS = {
    "intake": ("eventlab.cli.intake", "Take exported logs and context files into a store."),
    "watch": ("eventlab.cli.watch", "Take what is dropped into a folder, as it comes."),
    "events": ("eventlab.cli.asking", "List what the logs say happened."),
    "episodes": ("eventlab.cli.asking", "List alarms that belong together, with their causes."),
    "findings": ("eventlab.cli.asking", "Tell what troubles the sites, and what to do."),
    "alive": ("eventlab.cli.alive", "Say what of a site is still listening, and what is not."),
    "proof": ("eventlab.cli.proving", "Say whether something worked: before and after a date."),
    "whatif": ("eventlab.cli.whatif", "Replay past alarms of a point under other rules."),
    "retake": ("eventlab.cli.retake", "Read taken exports again: other answers, or none at all."),
    "teach": ("eventlab.cli.teach", "Say what wordings mean that were not understood."),
    "layouts": ("eventlab.cli.layouts", "List what exports looked like, with the answers."),
    "store": ("eventlab.cli.keeping", "Look after a store: check, tidy, history."),
    "dashboard": ("eventlab.cli.screens", "Show a store on a screen, in a browser."),
    "simulate": ("eventlab.cli.simulated", "Make sites whose troubles are known."),
    "demo": ("eventlab.cli.screens", "Take the sample logs, tell the findings, show the screens."),
}


class _Lazy(click.Group):
    """A group that imports a command only when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  click's signature
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002  click's signature
        with formatter.section("Commands"):
            formatter.write_dl([(name, help_) for name, (_, help_) in COMMANDS.items()])


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="eventlab")
def cli() -> None:
    """Find out why an intruder-alarm site raises alarms that it should not.

    Reads event histories exported from panels and monitoring centres, and says which point,
    under what condition, how sure, and what to do.
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit status.

    Exit status: 0 done, 1 failed, 2 wrong usage, 3 a question waits.

    Parameters
    ----------
    arguments : list of str, optional
        What was typed; the process's own arguments where left out.
    """
    from eventlab.errors import EventlabError, QuestionsWait, UsageError

    try:
        done: Any = cli.main(args=arguments, prog_name="eventlab", standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(1)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except UsageError as error:
        click.echo(f"eventlab: {error}", err=True)
        sys.exit(2)
    except QuestionsWait as error:
        click.echo(f"eventlab: {error}", err=True)
        sys.exit(3)
    except EventlabError as error:
        click.echo(f"eventlab: {error}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        click.echo(f"eventlab: {where}{(error.strerror or str(error)).lower()}", err=True)
        sys.exit(1)
    except Exception as error:
        # A fault of the program: one line for the user, the rest for who asks for it.
        if os.environ.get("EVENTLAB_TRACE"):
            raise
        told = " ".join(str(error).split())[:200]
        click.echo(
            f"eventlab: a fault of the program itself ({type(error).__name__}: {told}). "
            "With EVENTLAB_TRACE=1 in the environment it says where.",
            err=True,
        )
        sys.exit(1)
    sys.exit(done if isinstance(done, int) else 0)
