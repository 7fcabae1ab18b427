//! Responses in units of their own scatter, so that film, exposure and noise do not set their weight.

/// Bound of a response in units of its scatter: one crossing rib does not decide.
const BOUND: f32 = 2.5;

/// Scatter of values about nought: one and a half times the median of their sizes.
pub(super) fn scatter(values: &[f32]) -> f32 {
    let mut size: Vec<f32> = values.iter().map(|v| v.abs()).collect();
    let middle = size.len() / 2;
    size.select_nth_unstable_by(middle, f32::total_cmp);
    size[middle].max(1e-6) * 1.5
}

/// Takes values in units of their own scatter, bounded.
pub(super) fn bound(values: &mut [f32]) {
    let scale = scatter(values);
    values
        .iter_mut()
        .for_each(|v| *v = (*v / scale).clamp(-BOUND, BOUND));
}

/// Takes values less their mean, their squares summing to one: products of two such rows sum to their
/// correlation.
pub(super) fn unit(values: &mut [f32]) {
    let mean = values.iter().sum::<f32>() / values.len() as f32;
    values.iter_mut().for_each(|v| *v -= mean);
    let norm = values.iter().map(|v| v * v).sum::<f32>().sqrt().max(1e-6);
    values.iter_mut().for_each(|v| *v /= norm);
}
