"""What differs from board to board.  Edit this file, nothing else, for other wiring."""

# Name of the board on the cable; empty: "board-" and the end of the chip's own number.
NAME = ""

# The infrared thermometer understands 100 kHz at most; the other chips do not mind.
BUS_HZ = 100000

# Current through the LED pin's resistor at full pulse width (RGB chip only; the spectral chip
# drives its own LED).
LAMP_FULL_MA = 20

# GPIO numbers by kind of board (sys.platform).
PINS = {
    "rp2": {"i2c": 0, "sda": 4, "scl": 5, "button": 14, "lamp": 15},
    "esp32": {"i2c": 0, "sda": 21, "scl": 22, "button": 27, "lamp": 25},
}

# Wi-Fi boards: the name of the network turns the radio on.  Readings then also go to an MQTT
# broker, unencrypted: on the workshop's own network only.  Give the broker's address rather than
# its name; looking up a name holds the board up.
WIFI_NAME = ""
WIFI_PASSWORD = ""
BROKER = "192.168.1.10"
BROKER_PORT = 1883
BROKER_USER = ""
BROKER_PASSWORD = ""
BENCH = "bench"
TIME_HOST = "pool.ntp.org"
