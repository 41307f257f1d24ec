"""Reading a clip: what it is, its pictures, its sound. The only room that touches a decoder."""
