"""What was made of the columns besides units and sign, in words for the record."""

from lifetime.history.mapping.channels import Channel
from lifetime.history.mapping.derived_quantities import Derivation


def description(channels: tuple[Channel, ...], derivation: Derivation) -> tuple[str, ...]:
    """One sentence for each thing the study had made of the columns.

    Args:
        channels: The columns used.
        derivation: What the study says they mean.
    """
    roles = {channel.role: channel.column for channel in channels}
    sentences = []
    if "date" in roles:
        sentences.append(f'the time is that of "{roles["time"]}" on the day in "{roles["date"]}".')
    if derivation.time_zone is not None:
        sentences.append(f"timestamps are local times of {derivation.time_zone}.")
    if "charge_current" in roles:
        sentences.append(f'the current is "{roles["discharge_current"]}" less "{roles["charge_current"]}".')
    if "mode" in roles:
        sentences.append(f'the words in "{roles["mode"]}" give the sign; at rest the current is taken as zero.')
    if "phase_current_1" in roles:
        pairs = [
            f'"{roles[f"phase_voltage_{n}"]}" × "{roles[f"phase_current_{n}"]}"'
            for n in (1, 2, 3)
            if f"phase_current_{n}" in roles
        ]
        sentences.append(f"the power is the instantaneous sum of {' + '.join(pairs)}.")
    if "torque" in roles:
        share = "" if derivation.torque_fraction == 1.0 else f"{derivation.torque_fraction:.3g} × "
        losses = "without losses" if derivation.machine is None else "with the losses of machine and inverter"
        sentences.append(f'the power is {share}"{roles["torque"]}" × "{roles["shaft_speed"]}" {losses}.')
    if derivation.current_from_power:
        sentences.append("the current is the power divided by the voltage.")
    if derivation.current_offset_A:
        sentences.append(f"{derivation.current_offset_A:g} A were subtracted from the current as its sensor's offset.")
    if derivation.series > 1 or derivation.parallel > 1:
        sentences.append(
            f"values of one cell were scaled to the pack of {derivation.series} in series and {derivation.parallel} in "
            "parallel."
        )
    return tuple(sentences)
