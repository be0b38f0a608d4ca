"""How to take the photo, told before it is taken: one sentence each, most important first."""

#: A judgement from what costs most in photos with known truth.
BEFORE_THE_PHOTO = (
    "Lay the spring on its side, free and unloaded, with some table showing all around it.",
    "Lay a card, a coin or a ruler flat beside it, whole in the picture and not touching it.",
    "Go so close that both fill the picture: the wire should be 20 pixels wide or more.",
    "Hold the phone level above the spring, and tap on it to focus.",
    "Use even light from more than one side: no bright streak along the wire, no shadow of yours.",
    "Choose a plain table of another brightness than the wire.",
    "Use the photo as the camera saved it, not one sent by a messenger.",
    "Use the camera on the phone's back: the front one may save a mirror image, of the other hand.",
    "Take three or four, moving the phone or turning the spring over: photos that agree say more.",
)
