//! Curves in space from two films, against end-plates turned in space.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use curvebench::measure::angle_in_space;
use curvebench::phantom::Random;
use nalgebra::{Rotation3, Vector3};

/// Independent road: end-plates turned in space by random rotations (nalgebra), each past
/// vertical or not, seen from behind and from the side as parallel beams show them; the angle of
/// their normals comes back.
#[test]
fn random_plates_in_space_come_back() {
    let mut random = Random::new(41);
    let mut past = 0;
    for _ in 0..2000 {
        let mut plate = || {
            let axis = Vector3::new(random.normal(), random.normal(), 0.2 * random.normal());
            let turn = Rotation3::from_scaled_axis(axis.normalize() * random.normal() * 0.9);
            turn * Vector3::z()
        };
        let (u, l) = (plate(), plate());
        let seen = |n: Vector3<f64>| {
            (
                (-n.x).atan2(n.z).to_degrees(),
                (-n.y).atan2(n.z).to_degrees(),
            )
        };
        let ((au, bu), (al, bl)) = (seen(u), seen(l));
        let clear = |n: Vector3<f64>| n.z.abs() > 1e-3;
        if !clear(u) || !clear(l) {
            continue;
        }
        past += usize::from(u.z < 0.0 || l.z < 0.0);
        let got = angle_in_space([au, al, bu, bl]).map_or(f64::NAN, |g| g.0);
        let want = u.angle(&l).to_degrees();
        assert!((got - want).abs() < 1e-6, "{u:?} {l:?}: {got} {want}");
    }
    assert!(past > 100, "{past}");
}
