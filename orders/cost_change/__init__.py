"""What new costs do: looked at before they are in force, then acted on quote by quote."""
