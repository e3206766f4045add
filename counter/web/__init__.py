"""The counter page: a Flask app over one opened shop. Views translate, the trade decides."""
