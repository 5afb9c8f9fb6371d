"""Solar charge controllers: margins, input window, output, and what they let flow back."""
