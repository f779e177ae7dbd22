"""Points, lines and planes: join, meet and measure. No module here knows a car."""
