"""The facts an audit asks after, and the test that settles each."""

from estate.installed.link import Unknown

TESTS = {
    "cable": "read the sheath print and measure the loop resistance",
    "power cable": "find it, read its sheath print and measure its loop resistance",
    "joints": "walk its way and count the joints, or look for them with a reflectometer",
    "joint quality": "test the channel, or look at each joint with a reflectometer",
    "tees": "take the tees out and measure the video level at the head",
    "length_m": "measure its length with a reflectometer",
    "routes": "trace it with a tone and enter the routes it lies in",
    "ends": "trace it with a tone",
    "status": "trace it with a tone and look whether both its ends are connected",
    "method": "look at what it ends in at the camera and at the head",
    "feeds": "look at what feeds the camera, at the camera and at the head",
    "signal": "read the camera's data plate, or look what kind of signal arrives at the head",
    "load_w": "measure the volts at the camera by day",
    "load_night_w": "measure the volts at the camera with the infra-red on",
    "volts_night": "measure the volts at the camera with the infra-red on",
    "earthing": "have a competent electrical designer establish the earthing; measure the millivolts between the screens",
    "insulated": "look whether the camera is insulated from earthed steel; measure the millivolts between the screens",
    "picture_night": "look at the picture by day and at night, and measure the video level at the head",
    "loop_ohm": "measure its loop resistance",
    "distance": "ask the network's operator or the owner, then measure the distance and enter separation_mm",
    "lightning": "ask the designer of the lightning protection for the separation distance",
    "equipment": "look for the equipment on the way and enter it as ID@NODE",
}


def unknown(
    subject_kind: str, subject: str, fact: str, values: tuple[str, ...] = (), test: str = ""
) -> Unknown:
    """Return an unknown fact with the test that settles it."""
    return Unknown(subject_kind, subject, fact, values, test or TESTS[fact])
