"""Two stages beside each other: what differs in their values, figures and findings."""
