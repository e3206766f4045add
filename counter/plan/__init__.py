"""Tomorrow: what will be wanted, and how much to make and soak for it. Pure values."""
