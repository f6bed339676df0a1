"""How people use it: one command with verbs. Parses, calls the verbs in plan, prints. Computes nothing."""
