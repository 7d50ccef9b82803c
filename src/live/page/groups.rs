//! Whose each group's number is: the browser's that gave it first, until the teacher frees it. Nobody's
//! name is asked, so a number is all that there is to go by.

use std::collections::HashMap;
use std::sync::Mutex;

use super::door::{Caller, Role};
use super::hall::held;

/// Which browser has which group's number, for as long as the page is there.
#[derive(Debug, Default)]
pub(super) struct Groups(Mutex<HashMap<u8, u64>>);

/// What a browser may do with a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    /// It is the browser's from now on.
    New,
    /// It was already, or a teacher speaks, who may for every group.
    Own,
    /// It is another's.
    Others,
}

impl Groups {
    /// Somebody speaks for a group.
    pub(super) fn claim(&self, group: u8, caller: Caller) -> Claim {
        if caller.role == Role::Acts {
            return Claim::Own;
        }
        let mut groups = held(&self.0);
        let mut is_new = false;
        let session = groups.entry(group).or_insert_with(|| {
            is_new = true;
            caller.session
        });
        match (is_new, *session == caller.session) {
            (true, _) => Claim::New,
            (false, true) => Claim::Own,
            (false, false) => Claim::Others,
        }
    }

    /// The number is nobody's any more; whether it was somebody's.
    pub(super) fn free(&self, group: u8) -> bool {
        held(&self.0).remove(&group).is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_stays_with_who_gave_it_first_until_it_is_freed() {
        let groups = Groups::default();
        let pupil = |session| Caller {
            role: Role::Looks,
            session,
        };
        let teacher = Caller {
            role: Role::Acts,
            session: 9,
        };
        assert_eq!(groups.claim(3, teacher), Claim::Own);
        assert_eq!(groups.claim(3, pupil(1)), Claim::New);
        assert_eq!(groups.claim(3, pupil(1)), Claim::Own);
        assert_eq!(groups.claim(3, pupil(2)), Claim::Others);
        assert_eq!(groups.claim(3, teacher), Claim::Own);
        // One browser may speak for several groups that share it.
        assert_eq!(groups.claim(4, pupil(1)), Claim::New);
        assert!(groups.free(3) && !groups.free(3));
        assert_eq!(groups.claim(3, pupil(2)), Claim::New);
    }
}
