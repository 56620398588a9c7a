"""Count and sum up: the tally (counts that can be added), the summary read from it, the sky's part in it."""
