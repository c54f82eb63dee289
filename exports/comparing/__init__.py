"""Two panel files side by side: what differs in their plans, their findings and the files themselves."""
