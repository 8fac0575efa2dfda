"""E-mail: the row is the fact (outbox), SMTP only carries it (carrier)."""
