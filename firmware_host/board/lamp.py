"""The board's own LED where it hangs on a pin: pulse width sets the mean current."""


class PinLamp:
    """``pwm`` is a ``machine.PWM``; ``full_ma`` the current that its resistor lets through."""

    def __init__(self, pwm, full_ma):
        self.pwm = pwm
        self.full_ma = full_ma
        self.set(0)

    def set(self, ma):
        self.pwm.duty_u16(min(65535, 65535 * ma // self.full_ma))
