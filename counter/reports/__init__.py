"""What is read when the door is shut, on paper and as values: days, weeks, months, years."""
