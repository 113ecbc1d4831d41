// Pages without signal.
