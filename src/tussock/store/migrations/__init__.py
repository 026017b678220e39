"""How a store of an earlier version becomes one of this; run by Alembic when a store is opened."""
