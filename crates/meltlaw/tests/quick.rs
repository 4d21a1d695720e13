#![allow(missing_docs, clippy::unwrap_used)]
use meltlaw::study::*; use meltlaw::trials::*; use meltlaw::materials::Material; use meltlaw::gas::Gas;
pub fn study() -> Study {
    use CalibrationTerm as T;
    Study { name: "x".into(), wire: Wire { designation: "w".into(), material: Material::CarbonSteel, diameter_mm: 1.2, metal_section_mm2: None, density_kg_m3: 7850.0, linear_mass_g_m: None },
      gas: Some(Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() }),
      bench: Bench { ctwd_mm: 18.0, arc_length_mm: 4.0, voltage_measured_at: VoltagePlace::ContactTip, lead_resistance_ohm: 0.0, wire_feed_relative_se: 0.004, current_relative_se: 0.008, voltage_se_v: 0.15, ctwd_se_mm: 0.0, arc_length_se_mm: 0.15, extension_se_mm: 0.3, pulse_time_relative_se: 0.01 },
      calibration: [(T::CurrentGainRelative,0.003),(T::WireFeedGainRelative,0.002),(T::VoltageOffsetV,0.05),(T::CtwdOffsetMm,0.2)].map(|(term,standard_uncertainty)| CalibrationUncertainty{term,standard_uncertainty}).to_vec(),
      not_covered: vec![], source: SourceLimits { current_a: Some([20.0,500.0]), background_current_a: Some([25.0,150.0]), pulse_time_ms: Some([0.8,5.0]), pulse_frequency_hz: Some([30.0,300.0]), rise_a_per_ms: 600.0, fall_a_per_ms: 600.0, duty: Some([0.02,0.75]) },
      line: LineRequest { wire_feed_m_min: [3.0,9.5], step_m_min: 0.5, drop_to_wire_ratio: 1.1, drop_to_wire_limits: [0.8,1.4], interpolation_tolerance: 0.002, one_drop_floor: 0.8, extended_by: 0.15, extended_melting_rate_relative_se: 0.02, travel_speed_mm_s: Some(7.0), pins: vec![] },
      compare: Margins { wire_feed_relative: 0.02, detachment_relative: 0.05, voltage_v: 0.5 },
      numerics: Numerics { seed: 1, draws: 20000, confidence: 0.95, covariance_from: CovarianceFrom::Residuals }, laws: LawChoices::default(), assumed: vec![] }
}
pub fn trials(text: &str) -> Trials {
    let mut lines = text.lines(); let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let mut t = Trials { has_column: header.iter().filter_map(|h| Column::from_name(h)).collect(), ..Trials::default() };
    for (i, l) in lines.enumerate() {
        let cells: Vec<&str> = l.split(',').collect();
        let mut r = Trial::new(cells[0], 0, i + 2);
        for (h, c) in header.iter().zip(&cells) { if let Some(col) = Column::from_name(h) { if !c.is_empty() { r.set(col, Some(c.parse().unwrap())); } } if *h == "use" { r.use_it = *c == "yes"; } }
        t.rows.push(r);
    }
    t
}
#[test] fn example() {
    let text = include_str!("../../../datasets/worked_example/trials.csv").replace("\"camera stopped, drops not counted\"", "");
    let t = trials(&text);
    let t0 = std::time::Instant::now();
    let f = meltlaw::fit::fit_laws(&study(), &t);
    eprintln!("fit {:?}", t0.elapsed());
    let want: serde_json::Value = serde_json::from_str(include_str!("../../../datasets/worked_example/laws.json")).unwrap();
    for (name, law) in f.laws.by_name() {
        eprintln!("{name} {:?} chi {:?} rsd {:?} df {}", law.ended, law.chi_squared_per_degree, law.residual_standard_deviation, law.degrees_of_freedom);
        let w = &want["laws"][name];
        eprintln!("   want chi {} rsd {}", w["chi_squared_per_degree"], w["residual_standard_deviation"]);
        for c in &law.coefficient_order {
            let a = &law.coefficients[c]; let b = &w["coefficients"][c];
            let rel = |x: Option<f64>, y: &serde_json::Value| x.map(|x| x / y.as_f64().unwrap() - 1.0);
            eprintln!("   {c}: value {:?} rel {:.1e} se rel {:.1e} total {:.1e} interval {:?} want {}", a.value.unwrap(), rel(a.value,&b["value"]).unwrap(), rel(a.standard_error,&b["standard_error"]).unwrap_or(9.0), rel(a.standard_error_with_calibration,&b["standard_error_with_calibration"]).unwrap_or(9.0), a.interval, b["interval"]);
        }
        let (mut l, mut s, mut ck) = (0f64,0f64,0f64);
        for (d, e) in law.diagnostics.iter().zip(w["diagnostics"].as_array().unwrap()) { assert_eq!(d.trial, e["trial"].as_str().unwrap()); if let Some(x)=e["leverage"].as_f64() { l = l.max((d.leverage.unwrap()/x-1.0).abs()); s = s.max((d.studentised_residual.unwrap()/e["studentised_residual"].as_f64().unwrap()-1.0).abs()); ck = ck.max((d.cooks_distance.unwrap()/e["cooks_distance"].as_f64().unwrap()-1.0).abs()); } else { s = s.max((d.fitted-e["fitted"].as_f64().unwrap()).abs()); } }
        eprintln!("   lev {l:.1e} stud {s:.1e} cook {ck:.1e}");
        for (k, t) in &law.tests { eprintln!("   test {k}: {:?} {:?} want {} {}", t.statistic, t.p_value, w["tests"][k]["statistic"], w["tests"][k]["p_value"]); }
        for c in &law.candidates { eprintln!("   {c:?} want {}", w["candidates"]); }
        for (k, r) in &law.range { eprintln!("   range {k} {r:?} want {}", w["range"][k]); }
        if let Some(c) = &law.counting_covariance { eprintln!("   counting {:?} want {}", c[0], w["counting_covariance"][0]); }
    }
    for (c, w) in f.calibration.iter().zip(want["calibration"].as_array().unwrap()) { for (k, v) in &c.effects { let x = w["effects"][k].as_f64().unwrap(); if (v-x).abs() > 1e-6*x.abs().max(1e-9) { eprintln!("effect {} {k}: {v} want {x}", c.name); } } }

    let t0 = std::time::Instant::now();
    let line = meltlaw::compose::compose(&study(), &f.laws, &f.calibration);
    eprintln!("compose {:?}", t0.elapsed());
    eprintln!("{:?} {:?}", line.unsupported, line.interpolation);
    let want: serde_json::Value = serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap();
    for n in &line.nodes { eprintln!("{} {} Ip {:.2} tp {:.4} f {:.2} Ib {:.2} Im {:.2} drop {:.3} p {:.3} {:?} {:?}", n.wire_feed_m_min, n.support, n.pulse_current_a, n.pulse_time_ms, n.pulse_frequency_hz, n.background_current_a, n.current_mean_a, n.drop_diameter_mm/1.2, n.one_drop_probability.value, n.limits, n.notes); }
    fn walk(p: &str, a: &serde_json::Value, b: &serde_json::Value) { use serde_json::Value as V; match (a, b) { (V::Object(x), V::Object(y)) => for (k, v) in y { walk(&format!("{p}.{k}"), &x[k], v) }, (V::Array(x), V::Array(y)) if x.len() == y.len() && y.len()==2 && y[0].is_number() => { let (l,h,L,H)=(x[0].as_f64().unwrap(),x[1].as_f64().unwrap(),y[0].as_f64().unwrap(),y[1].as_f64().unwrap()); let d=((l-L).abs().max((h-H).abs()))/(H-L); if d>0.015 { eprintln!("{p}: {x:?} want {y:?} {d:.4}"); } }, (V::Number(x), V::Number(y)) => { let (x,y)=(x.as_f64().unwrap(),y.as_f64().unwrap()); if (x-y).abs() > 1e-7*y.abs() && (x-y).abs()>1e-12 { eprintln!("{p}: {x} want {y} rel {:.1e}", x/y-1.0); } }, (x,y) => if x != y { eprintln!("{p}: {x} want {y}") } } }
    for w in want["nodes"].as_array().unwrap() { let n = line.nodes.iter().find(|n| (n.wire_feed_m_min - w["wire_feed_m_min"].as_f64().unwrap()).abs()<1e-9).unwrap(); walk("node", &serde_json::to_value(n).unwrap(), w); }
    walk("validity", &serde_json::to_value(&line.validity).unwrap(), &want["validity"]);
}
