"""What a shop sees of its boxes: answers out of the collector's database, and a page that shows them."""
