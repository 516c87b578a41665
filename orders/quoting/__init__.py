"""The price of a wish, the quote, its approval, link and mail."""
