"""The live feed: one frame for all, the newest of each kind for the slow, an end for everybody."""

import asyncio
import json

from sprayout.web.live import LiveFeed, Subscriber, encode


def test_an_event_is_one_frame_of_the_standards_form() -> None:
    assert encode("booth", {"air_c": 21.5}) == b'event: booth\ndata: {"air_c": 21.5}\n\n'


def test_nothing_is_encoded_for_nobody() -> None:
    feed = LiveFeed()
    feed.publish("state", object())  # would fail if it were encoded


def test_a_slow_client_gets_the_newest_of_each_kind() -> None:
    async def run() -> list[bytes]:
        subscriber = Subscriber()
        for number in range(50):
            subscriber.put("colour", encode("colour", number))
            subscriber.put("booth", encode("booth", number))
        frames = subscriber.frames()
        got = [await anext(frames), await anext(frames)]
        await frames.aclose()
        return got

    assert asyncio.run(run()) == [encode("colour", 49), encode("booth", 49)]


def test_every_client_gets_the_state_first_and_the_stream_ends_when_the_feed_closes() -> None:
    async def run() -> list[list[dict]]:
        feed = LiveFeed()

        async def client(name: str) -> list[dict]:
            got = []
            async for frame in feed.stream([("state", name)]):
                got.append(json.loads(frame.split(b"data: ")[1]))
                if len(got) == 1 and name == "last":
                    feed.publish("booth", {"n": 1})
                    asyncio.get_running_loop().call_soon(feed.close)
            return got

        return await asyncio.gather(client("first"), client("last"))

    first, last = asyncio.run(run())
    assert first == ["first", {"n": 1}] and last == ["last", {"n": 1}]


def test_a_closed_feed_takes_no_more_clients() -> None:
    async def run() -> list[bytes]:
        feed = LiveFeed()
        feed.close()
        return [frame async for frame in feed.stream([("state", 1)])]

    assert asyncio.run(run()) == []
