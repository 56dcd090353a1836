"""The sheets: morning, account, week, the working of a figure, readings and their corrections."""
