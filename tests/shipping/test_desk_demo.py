"""The packing desk on the demo world: what goes on Meadowrue, and what is too much for it."""

from __future__ import annotations

from tests.shipping.test_desk_pages import text, url


def test_heron_with_the_pool_goes_on_meadowrue(tonight, client):
    client.force_login(tonight.witnesses["ida"].user)
    said = text(client.get(url(query="?van=Meadowrue")))
    assert "ALL GOES" in said and "18 cases carry everything, 669 kg" in said and "too much" not in said


def test_heron_and_curlew_with_the_pool_are_too_much_for_meadowrue(tonight, client):
    """Rule 39: 95 % of 1,150 kg less 160 kg of crew is 932.5 kg; the cases weigh 1,161 kg by the demo's tables."""
    client.force_login(tonight.witnesses["ida"].user)
    said = text(client.get(url(query="?van=Meadowrue&also=curlew")))
    assert (
        "TOO MUCH" in said
        and "The cases weigh 1,161 kg as usually packed; 932.5 kg may be planned onto Meadowrue" in said
    )
    assert "228.5 kg too much" in said
    assert "Leave Curlew, 14 cases" in said and "Take Teasel instead</a>: 959 kg are free" in said
    assert "Hire a vehicle for at least 228.5 kg more" in said
    leave = "&".join(f"leave=CUR-{at:02}" for at in range(1, 15))
    assert f"van=Meadowrue&amp;also=curlew&amp;{leave.replace('&', '&amp;')}" in said
    said = text(client.get(url(query=f"?van=Meadowrue&also=curlew&{leave}")))
    assert "ALL GOES" in said and "18 cases carry everything, 669 kg" in said
