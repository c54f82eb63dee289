"""Design rules: what each asks of the plan, and the findings it returns."""
