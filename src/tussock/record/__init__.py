"""The programme: what was measured, decided and logged. No physics."""
