"""Force balance: what springs, dampers and friction do to the body, whatever the road."""
