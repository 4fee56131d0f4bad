"""From what a person sees at the machine to causes, checks and remedies, ranked by the design's own figures."""
