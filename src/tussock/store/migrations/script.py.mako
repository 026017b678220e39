"""${message}."""

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Bring a store of the revision before to this one."""
    ${upgrades if upgrades else "pass"}
