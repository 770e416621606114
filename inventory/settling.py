"""The one SQL that says where each item is now, for one act's items and for a full rebuild."""


def settle(item_ids):
    pass
