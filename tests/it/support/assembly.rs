//! Layers and fasteners at random, and one entry of each kind about them.

use chrono::NaiveDate;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use witnessmark::ids::Name;
use witnessmark::language::Thread;
use witnessmark::units::{Reading, Unit};
use witnessmark::walk::event::{
    Adapter, Direction, InstrumentSnapshot, Laid, Round, Tight, Wrench,
};
use witnessmark::walk::{Address, Answer, Event, Judged};

use super::generate::{instrument, name, reading, text};

pub(super) fn laid() -> impl Strategy<Value = Laid> {
    (name(), any::<bool>(), option::of(text())).prop_map(|(layer, so, lot)| Laid { layer, so, lot })
}

pub(super) fn tight() -> impl Strategy<Value = Tight> {
    (any::<u32>(), option::of(reading()), any::<bool>()).prop_map(|(fastener, reading, so)| Tight {
        fastener,
        reading,
        so,
    })
}

pub(super) fn wrench() -> impl Strategy<Value = Wrench> {
    let adapter = (reading(), reading(), reading())
        .prop_map(|(length, extension, angle)| Adapter { length, extension, angle });
    let thread = proptest::sample::select(Thread::ALL.to_vec());
    (instrument(), reading(), option::of(adapter), thread).prop_map(
        |(instrument, setting, adapter, thread)| Wrench { instrument, setting, adapter, thread },
    )
}

pub(super) fn round() -> impl Strategy<Value = Round> {
    (any::<u32>(), wrench(), vec(tight(), 0..3)).prop_map(|(pass, wrench, fasteners)| Round {
        pass,
        wrench,
        fasteners,
    })
}

pub(super) fn direction() -> impl Strategy<Value = Direction> {
    proptest::sample::select(Direction::ALL.to_vec())
}

/// One event of each kind, always the same ones.
pub(super) fn each_kind(address: &Address, judged: &Judged) -> Vec<Event> {
    let figure = |text: &str, unit| Reading::parse(text, unit).unwrap();
    let wrench = || Wrench {
        instrument: InstrumentSnapshot {
            id: "W-02".to_owned(),
            kind: Name::new("torque_wrench").unwrap(),
            certificate_sha256: None,
            calibration_due: NaiveDate::from_ymd_opt(2027, 2, 28).unwrap(),
            certificate: "K 1190".to_owned(),
            resolution: "0.5 N·m".to_owned(),
            uncertainty: "1 N·m".to_owned(),
            k: "2".to_owned(),
        },
        setting: figure("26.7", Unit::NewtonMetre),
        adapter: Some(Adapter {
            length: figure("400", Unit::Millimetre),
            extension: figure("50", Unit::Millimetre),
            angle: figure("0", Unit::Degree),
        }),
        thread: Thread::Dry,
    };
    let tight =
        || Tight { fastener: 5, reading: Some(figure("30.5", Unit::NewtonMetre)), so: true };
    let laid = |layer: &str, lot| Laid { layer: Name::new(layer).unwrap(), so: true, lot };
    let answered = |answer: Answer| Event::Answered {
        address: address.clone(),
        answer,
        judged: judged.clone(),
        signed: None,
    };
    vec![
        Event::LayerLaid { address: address.clone(), laid: laid("seat", None), judged: None },
        answered(Answer::Built(vec![laid("seat", None), laid("spring", Some("K-88".to_owned()))])),
        Event::WrenchSet {
            address: address.clone(),
            pass: 1,
            wrench: Box::new(wrench()),
            judged: None,
        },
        Event::FastenerTightened {
            address: address.clone(),
            pass: 1,
            tight: tight(),
            judged: Some(judged.clone()),
        },
        Event::FastenerRechecked {
            address: address.clone(),
            fastener: 5,
            direction: Direction::Tightening,
            reading: Reading::parse("34", Unit::NewtonMetre).unwrap(),
            instrument: wrench().instrument,
        },
        Event::FastenerLoosened {
            address: address.clone(),
            fastener: 5,
            reason: "the washer was missing".to_owned(),
            judged: judged.clone(),
        },
        answered(Answer::Tightened(vec![Round {
            pass: 1,
            wrench: wrench(),
            fasteners: vec![tight()],
        }])),
    ]
}
