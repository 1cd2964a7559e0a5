"""Which chips the program knows for each role, and which roles a board must have."""

from as7341 import AS7341
from mlx90614 import MLX90614
from sdp8xx import SDP8xx
from sht3x import SHT3x
from tcs34725 import TCS34725

DRIVERS = {
    "colour": (AS7341, TCS34725),
    "climate": (SHT3x,),
    "part": (MLX90614,),
    "airflow": (SDP8xx,),
}
NEEDED = ("colour", "climate")
