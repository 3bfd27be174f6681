"""The pages: what athletes, coaches and teams see in a browser."""
