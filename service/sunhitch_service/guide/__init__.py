"""The guide: Markdown files of this folder, and pages made from the table of codes."""
