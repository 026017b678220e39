"""The first schema: programmes, versions, texts, files, entries of the log, results, users."""

import sqlalchemy as sa
from alembic import op

revision = "r0001"
down_revision = None


def upgrade() -> None:
    """Make every table of the first schema."""
    op.create_table(
        "document",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_document")),
    )
    op.create_table(
        "file",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=240), nullable=False),
        sa.Column("media_type", sa.String(length=120), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_file")),
    )
    op.create_table(
        "programme",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_programme")),
    )
    op.create_table(
        "user_account",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_user_account")),
        sa.UniqueConstraint("name", name=op.f("uq_user_account_name")),
    )
    op.create_table(
        "file_piece",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["digest"], ["file.digest"], name=op.f("fk_file_piece_digest_file")),
        sa.PrimaryKeyConstraint("digest", "number", name=op.f("pk_file_piece")),
    )
    op.create_table(
        "result",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("programme_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("study", sa.String(length=80), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["programme_id"], ["programme.id"], name=op.f("fk_result_programme_id_programme")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_result")),
    )
    op.create_index("ix_result_programme_id_study", "result", ["programme_id", "study"], unique=False)
    op.create_table(
        "user_session",
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("user_id", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["user_id"], ["user_account.id"], name=op.f("fk_user_session_user_id_user_account")),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_user_session")),
    )
    op.create_index(op.f("ix_user_session_user_id"), "user_session", ["user_id"], unique=False)
    op.create_table(
        "version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("programme_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("author", sa.String(length=120), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["digest"], ["document.digest"], name=op.f("fk_version_digest_document")),
        sa.ForeignKeyConstraint(["programme_id"], ["programme.id"], name=op.f("fk_version_programme_id_programme")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_version")),
        sa.UniqueConstraint("programme_id", "number", name=op.f("uq_version_programme_id_number")),
    )
    op.create_table(
        "entry",
        sa.Column("client_id", sa.String(length=36), nullable=False),
        sa.Column("programme_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(length=40), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("files", sa.JSON(), nullable=False),
        sa.Column("author", sa.String(length=120), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version_id", sa.Integer(), nullable=True),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["programme_id"], ["programme.id"], name=op.f("fk_entry_programme_id_programme")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_entry_version_id_version")),
        sa.PrimaryKeyConstraint("client_id", name=op.f("pk_entry")),
    )
    op.create_index(op.f("ix_entry_programme_id"), "entry", ["programme_id"], unique=False)
    op.create_table(
        "version_file",
        sa.Column("version_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.String(length=240), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["digest"], ["file.digest"], name=op.f("fk_version_file_digest_file")),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name=op.f("fk_version_file_version_id_version")),
        sa.PrimaryKeyConstraint("version_id", "path", name=op.f("pk_version_file")),
    )
