from ui.store import PhotoStore


def test_a_photo_is_found_again_by_its_hash():
    store = PhotoStore()
    key = store.put(b"one", "a.jpg")
    assert store.get(key).data == b"one"
    assert store.get("unknown") is None


def test_the_oldest_go_when_the_room_is_full_but_the_last_always_stays():
    store = PhotoStore(room_bytes=10)
    first, second = store.put(b"1" * 6, "a"), store.put(b"2" * 4, "b")
    assert store.get(first) is not None  # looked at again, so now the newest
    third = store.put(b"3" * 5, "c")
    assert store.get(second) is None
    assert store.get(third) is not None
    big = store.put(b"4" * 50, "d")
    assert store.get(big) is not None
    assert store.get(first) is None
