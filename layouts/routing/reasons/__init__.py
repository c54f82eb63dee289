"""Why there is no routing: from the plainest reason down to none that can be proven."""
