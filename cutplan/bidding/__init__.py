"""The estimator's questions: what a job that is not measured yet will need, and what finished ones really wasted."""
