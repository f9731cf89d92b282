"""The pages of enquiries, the diary, the sitting, consent and photographs."""
