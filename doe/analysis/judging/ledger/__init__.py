"""The ledger of risk: which verdict on a question is due, what it may spend, what was altered since the last one."""
