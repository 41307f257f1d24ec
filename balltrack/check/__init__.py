"""What a file is before it is measured: whether it is fit, how well it will be measured, what to change next time."""
