"""Who lives in the invented valley of the Sallow: growers and breweries."""

from service.market.people.parties import Party

# Code, name, locality, latitude, longitude, elevation.
GROWERS = (
    ("ALDER", "Alderbrook Hop Yard", "Alder Brook", 44.95, -64.40, 35.0),
    ("ROWAN", "Rowan Ridge Farm", "Upper Sallow", 45.08, -64.71, 90.0),
    ("TANSY", "Tansy Bottom Hops", "Tansy Bottom", 44.81, -64.98, 20.0),
    ("KESTREL", "Kestrel Hill Growers", "Kestrel Hill", 45.31, -63.92, 140.0),
    ("MILLRACE", "Millrace Yard", "Old Millrace", 44.62, -65.11, 15.0),
    ("LINNET", "Linnet Lane Farm", "Linnet Lane", 45.22, -64.15, 60.0),
    ("SEDGE", "Sedgewater Hops", "Sedgewater", 44.73, -64.62, 5.0),
    ("HOLLY", "Hollyfold Hop Garden", "Hollyfold", 45.02, -63.66, 75.0),
    ("BRAMBLE", "Bramble End Orchard and Hops", "Bramble End", 44.55, -64.28, 48.0),
)
BREWERIES = (
    ("FINCH", "Finch Lane Brewery", "Port Finch", 44.65, -63.58, 12.0),
    ("LANTERN", "Lantern Quay Brewing", "Lantern Quay", 44.70, -63.40, 4.0),
    ("OTTER", "Otter Weir Ales", "Otter Weir", 45.12, -64.32, 30.0),
    ("COBBLE", "Cobblestone Cellar", "Marlport", 45.36, -63.27, 22.0),
    ("HERON", "Heron Marsh Brewhouse", "Heron Marsh", 44.90, -65.05, 3.0),
    ("SLATE", "Slate Roof Brewery", "Slateford", 45.60, -64.05, 180.0),
    ("TILLER", "Tiller and Oak", "Gull Harbour", 44.38, -64.52, 6.0),
    ("WREN", "Wrenfold Village Brewhouse", "Upper Sallow", 45.07, -64.69, 85.0),
    ("FORGE", "Forge Bridge Brewing", "Forge Bridge", 45.42, -62.90, 55.0),
    ("MOTH", "Moth and Lamp", "Port Finch", 44.66, -63.60, 20.0),
)


def parties() -> list[Party]:
    """Everybody of the region."""
    return [
        Party(
            kind=kind,
            code=code,
            name=name,
            email=f"{code.lower()}@sallow-valley.example",
            country="CA",
            locality=locality,
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            elevation_m=elevation_m,
        )
        for kind, people in (("grower", GROWERS), ("brewery", BREWERIES))
        for code, name, locality, latitude_deg, longitude_deg, elevation_m in people
    ]
