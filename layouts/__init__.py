"""Intent and decisions: reading, placing, routing, flow, sealing, rules; loads no CAD kernel."""
