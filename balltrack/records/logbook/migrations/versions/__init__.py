"""One file a step, each naming the one before it. A step that has been used is never changed: write another."""
