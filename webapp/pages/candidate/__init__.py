"""One candidate: its inputs, what they come to while one types, its mass ledger and charts."""
