"""The quick answer while something is dragged: a changed panel laid out from its last layout, and where things may go.

Tank and pump stay where they stood, and so do all channels that still hold; what is left is routed anew round them.
Nothing depends on the clock: the same panel and the same last layout give the same answer.
"""
