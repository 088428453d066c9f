"""From pieces and stock to a plan, and its proof. Knows nothing of gates: it would serve any shop that cuts lengths."""
