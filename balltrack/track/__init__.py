"""The track room: one ball followed through a swing."""
