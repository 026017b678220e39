"""The studies from the shell: `tussock travel programme.yaml`.

Exit codes: 0 done; 1 done, and an engineering check fails; 2 the input is wrong; 3 a fault of Tussock itself;
130 stopped by the user. Nothing heavy is imported before a command runs, so that help comes at once.
"""

from tussock.cli import (
    damper_commands,
    measured_commands,
    motion_commands,
    points_commands,
    serve_commands,
    store_commands,
)  # they register their commands
from tussock.cli.commands import app, main
from tussock.cli.log_commands import log
from tussock.cli.user_commands import user

app.add_typer(log)
app.add_typer(user)

__all__ = [
    "app",
    "damper_commands",
    "main",
    "measured_commands",
    "motion_commands",
    "points_commands",
    "serve_commands",
    "store_commands",
]
